#include "daemon/link/greeting.hpp"

#include <algorithm>
#include <cstdio>
#include <set>
#include <sstream>
#include <vector>

#include "protocol/schema_text.hpp"

namespace midstick::link {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  std::string message;  // a field line means nothing without the message it stands in
  for (std::string line; std::getline(in, line);) {
    if (line.rfind("message ", 0) == 0) message = line.substr(0, line.find(" from "));
    lines.push_back(line.rfind("  ", 0) == 0 ? message + ":" + line.substr(1) : line);
  }
  return lines;
}

/// Text from outside, made safe to print.
std::string printable(std::string text) {
  for (char& c : text)
    if (c != '\n' && (c < ' ' || c > '~')) c = '?';
  return text;
}

}  // namespace

std::string schema_difference(const std::string& board, const std::string& host, int limit) {
  const auto ours = lines_of(host);
  const auto theirs = lines_of(printable(board));
  const std::set<std::string> our_set(ours.begin(), ours.end());
  const std::set<std::string> their_set(theirs.begin(), theirs.end());
  std::string text;
  int shown = 0, more = 0;
  const auto show = [&](const char* side, const std::string& line) {
    if (shown++ < limit)
      text += std::string(side) + line + "\n";
    else
      ++more;
  };
  for (const auto& line : theirs)
    if (!our_set.count(line)) show("  board: ", line);
  for (const auto& line : ours)
    if (!their_set.count(line)) show("  host:  ", line);
  if (more > 0) text += "  and " + std::to_string(more) + " more\n";
  return text;
}

void Greeting::begin(HostTime now) {
  due_ = now;
  end_ = now + patience_;
  hellos_asked_ = 0;
  stranger_.reset();
  outcome_.reset();
  text_.clear();
  text_done_ = false;
}

void Greeting::on_hello(const protocol::Hello& hello, HostTime now) {
  if (outcome_) return;
  if (hello.protocol == MIDSTICK_PROTOCOL_VERSION && hello.schema_hash == protocol::kSchemaHash) {
    outcome_ = hello;
    return;
  }
  if (stranger_) return;
  stranger_ = hello;
  due_ = now;
  end_ = now + patience_;
}

void Greeting::on_schema_text(const protocol::SchemaText& piece, HostTime now) {
  if (!stranger_ || outcome_ || piece.offset != text_.size()) return;
  text_.append(reinterpret_cast<const char*>(piece.text.data), piece.text.size);
  text_done_ = text_.size() >= piece.total || piece.text.size == 0;
  due_ = now;
  if (text_done_) refuse();
}

std::optional<Greeting::Question> Greeting::ask(HostTime now) {
  if (outcome_ || now < due_) return std::nullopt;
  if (now >= end_) {
    if (stranger_)
      refuse();
    else
      outcome_ = Error{ErrorKind::bench_missing, "no bench board answered hello within " + std::to_string(patience_.count / 1'000'000) +
                                                     " ms (" + std::to_string(hellos_asked_) + " tries)"};
    return std::nullopt;
  }
  due_ = now + interval_;
  if (stranger_) return protocol::SchemaRead{static_cast<std::uint16_t>(text_.size())};
  ++hellos_asked_;
  return protocol::HelloRequest{};
}

void Greeting::refuse() {
  char head[160];
  std::snprintf(head, sizeof head,
                "board speaks another wire (protocol %u, schema %08x, firmware %u.%u) than this program (protocol %u, schema %08x)",
                stranger_->protocol, static_cast<unsigned>(stranger_->schema_hash), stranger_->firmware_major, stranger_->firmware_minor,
                static_cast<unsigned>(MIDSTICK_PROTOCOL_VERSION), static_cast<unsigned>(protocol::kSchemaHash));
  std::string message = head;
  if (text_done_)
    message += "; the lines that differ:\n" + schema_difference(text_, MIDSTICK_SCHEMA_TEXT, 12);
  else
    message += "; its schema text could not be read, so the lines that differ are not known";
  outcome_ = Error{ErrorKind::bench_missing, message + (text_done_ ? "flash the board with this version's firmware" : "")};
}

}  // namespace midstick::link
