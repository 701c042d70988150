#include "daemon/link/frame_log.hpp"

#include <algorithm>
#include <cstdio>
#include <utility>

#include "protocol/edge_list.hpp"
#include "protocol/messages.hpp"

namespace midstick::link {
namespace {

std::string hex(std::span<const std::uint8_t> bytes) {
  std::string text;
  for (std::uint8_t byte : bytes) {
    char two[4];
    std::snprintf(two, sizeof two, "%s%02X", text.empty() ? "" : " ", byte);
    text += two;
  }
  return text;
}

struct FieldPrinter {
  std::string text;

  void operator()(const char* name, std::uint32_t value, const char* unit) {
    text += std::string(" ") + name + "=" + std::to_string(value);
    if (*unit != '\0') text += std::string(" ") + unit;
  }
  void operator()(const char* name, protocol::WireTick value, const char* unit) { (*this)(name, value.count, unit); }
  void operator()(const char* name, const protocol::LineCredits& value, const char*) {
    text += std::string(" ") + name + "=";
    for (int i = 0; i < protocol::kStimulusLines; ++i) text += (i ? "," : "") + std::to_string(value.of[i]);
  }
  void operator()(const char* name, protocol::Tail value, const char*) {
    text += std::string(" ") + name + "=[" + hex({value.data, value.size}) + "]";
  }
};

template <class Message>
std::string message_text(const char* name, std::uint8_t seq, std::span<const std::uint8_t> payload) {
  std::string text = std::string(name) + " seq " + std::to_string(seq);
  Message message{};
  if (!protocol::decode(payload.data(), static_cast<std::uint8_t>(payload.size()), message)) return text + " UNREADABLE " + hex(payload);
  FieldPrinter printer;
  protocol::for_each_field(message, printer);
  return text + printer.text;
}

void keep(std::deque<LoggedFrame>& frames, LoggedFrame frame) {
  frames.push_back(std::move(frame));
  if (frames.size() > FrameLog::kKept) frames.pop_front();
}

}  // namespace

void FrameLog::add(LoggedFrame frame) { keep(frame.from_board ? received_ : sent_, std::move(frame)); }

std::string FrameLog::text() const {
  std::vector<LoggedFrame> all(sent_.begin(), sent_.end());
  all.insert(all.end(), received_.begin(), received_.end());
  std::stable_sort(all.begin(), all.end(), [](const LoggedFrame& a, const LoggedFrame& b) { return a.at < b.at; });
  std::string text;
  for (const LoggedFrame& frame : all) {
    char head[48];
    std::snprintf(head, sizeof head, "%.6f s %s ", static_cast<double>(frame.at.count) / 1e9, frame.from_board ? "board" : "host ");
    text += head + frame_text(frame.type, frame.seq, frame.payload) + "\n";
  }
  return text;
}

std::string frame_text(std::uint8_t type, std::uint8_t seq, std::span<const std::uint8_t> payload) {
  if (payload.size() > protocol::kMaxPayload) payload = payload.first(protocol::kMaxPayload);
  switch (type) {
#define MIDSTICK_CASE(number, Struct, name, FIELDS, direction, frozen, meaning) \
  case number:                                                                  \
    return message_text<protocol::Struct>(#name, seq, payload);
    MIDSTICK_MESSAGES(MIDSTICK_CASE)
#undef MIDSTICK_CASE
    default:
      return "unknown type " + std::to_string(type) + " seq " + std::to_string(seq) + " " + hex(payload);
  }
}

#define MIDSTICK_NAME(number, name, meaning) \
  case number:                               \
    return #name;
#define MIDSTICK_MEANING(number, name, meaning) \
  case number:                                  \
    return meaning;

std::string fault_name(std::uint8_t number) {
  switch (number) {
    MIDSTICK_FAULTS(MIDSTICK_NAME)
    default:
      return "unknown " + std::to_string(number);
  }
}
std::string refusal_name(std::uint8_t number) {
  switch (number) {
    MIDSTICK_REFUSALS(MIDSTICK_NAME)
    default:
      return "unknown " + std::to_string(number);
  }
}
std::string event_name(std::uint8_t number) {
  switch (number) {
    MIDSTICK_EVENTS(MIDSTICK_NAME)
    default:
      return "unknown " + std::to_string(number);
  }
}
std::string fault_meaning(std::uint8_t number) {
  switch (number) {
    MIDSTICK_FAULTS(MIDSTICK_MEANING)
    default:
      return "";
  }
}
std::string refusal_meaning(std::uint8_t number) {
  switch (number) {
    MIDSTICK_REFUSALS(MIDSTICK_MEANING)
    default:
      return "";
  }
}
#undef MIDSTICK_NAME
#undef MIDSTICK_MEANING

}  // namespace midstick::link
