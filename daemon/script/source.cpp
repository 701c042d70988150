#include "daemon/script/source.hpp"

#include <cmath>
#include <cstdint>

namespace midstick::script {
namespace {

std::string unescaped(std::string_view token) {
  std::string out;
  for (std::size_t i = 0; i < token.size(); ++i) {
    if (token[i] == '~' && i + 1 < token.size())
      out += token[++i] == '0' ? '~' : '/';
    else
      out += token[i];
  }
  return out;
}

}  // namespace

int LineTable::add(int parent, std::string key, int line) {
  nodes_.push_back({parent, line, std::move(key)});
  return static_cast<int>(nodes_.size()) - 1;
}

int LineTable::line_of(std::string_view pointer) const {
  if (nodes_.empty()) return 0;
  int node = 0;
  while (!pointer.empty()) {
    pointer.remove_prefix(1);
    const auto end = pointer.find('/');
    const std::string key = unescaped(pointer.substr(0, end));
    pointer = end == std::string_view::npos ? std::string_view{} : pointer.substr(end);
    int found = -1;
    for (int i = node + 1; i < static_cast<int>(nodes_.size()) && found < 0; ++i)
      if (nodes_[i].parent == node && nodes_[i].key == key) found = i;
    if (found < 0) break;
    node = found;
  }
  return nodes_[node].line;
}

Error Source::error(std::string_view pointer, std::string_view what) const {
  const int line = lines.line_of(pointer);
  std::string message = path;
  if (line > 0) message += ":" + std::to_string(line);
  message += ": at ";
  message += pointer.empty() ? std::string_view("the top") : pointer;
  message += ": ";
  message += what;
  return {ErrorKind::bad_file, std::move(message)};
}

std::string child(std::string_view pointer, std::string_view key) {
  std::string out(pointer);
  out += '/';
  for (const char c : key) {
    if (c == '~')
      out += "~0";
    else if (c == '/')
      out += "~1";
    else
      out += c;
  }
  return out;
}

std::string child(std::string_view pointer, std::size_t index) { return child(pointer, std::to_string(index)); }

std::string shown(const nlohmann::json& value) {
  if (value.is_object()) return "an object";
  if (value.is_array()) return "an array of " + std::to_string(value.size());
  if (value.is_number_float() && value == std::floor(value.get<double>()) && std::abs(value.get<double>()) < 9e15)
    return std::to_string(value.get<std::int64_t>());
  std::string text = value.dump(-1, ' ', true, nlohmann::json::error_handler_t::replace);  // ASCII: safe to cut anywhere
  if (text.size() > 60) text = text.substr(0, 57) + "...";
  return text;
}

}  // namespace midstick::script
