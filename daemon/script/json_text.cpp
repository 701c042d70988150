#include "daemon/script/json_text.hpp"

#include <rapidjson/encodings.h>
#include <rapidjson/error/en.h>
#include <rapidjson/memorystream.h>
#include <rapidjson/reader.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <unordered_set>

namespace midstick::script {
namespace {

using nlohmann::json;

/// Builds values and lines from the reader's events. Returning false stops the reader; `complaint` then says why.
class Builder {
 public:
  Builder(Source& source, const rapidjson::MemoryStream& stream) : source_(source), stream_(stream) {}

  std::string complaint;

  bool Null() { return put(nullptr); }
  bool Bool(bool b) { return put(b); }
  /// Numbers come as text: the reader's own conversion is undefined for some zeros (0e138), and the library's is exact.
  bool RawNumber(const char* s, rapidjson::SizeType n, bool) {
    const std::string_view text(s, n);
    if (text.find_first_of(".eE") == std::string_view::npos) {
      std::int64_t whole = 0;
      if (read(text, whole)) return put(whole);
      std::uint64_t large = 0;
      if (read(text, large)) return put(large);
    }
    double d = 0;
    if (!read(text, d)) return refuse("a number beyond the range of a double");
    if (d == std::floor(d) && std::abs(d) < 9e15) return put(static_cast<std::int64_t>(d));
    return put(d);
  }
  // Never called while numbers come as text.
  bool Int(int) { return false; }
  bool Uint(unsigned) { return false; }
  bool Int64(std::int64_t) { return false; }
  bool Uint64(std::uint64_t) { return false; }
  bool Double(double) { return false; }
  bool String(const char* s, rapidjson::SizeType n, bool) { return put(std::string(s, n)); }
  bool StartObject() { return open(json::object()); }
  bool StartArray() { return open(json::array()); }
  bool EndObject(rapidjson::SizeType) { return close(); }
  bool EndArray(rapidjson::SizeType) { return close(); }
  bool Key(const char* s, rapidjson::SizeType n, bool) {
    Level& level = levels_.back();
    level.key.assign(s, n);
    level.key_line = line();
    if (!level.seen.insert(level.key).second) return refuse("the key " + shown(level.key) + " twice in one object");
    return true;
  }

  int line() {
    const char* end = stream_.src_;
    line_ += static_cast<int>(std::count(counted_ ? counted_ : stream_.begin_, end, '\n'));
    counted_ = end;
    return line_;
  }

 private:
  struct Level {
    json* value;
    int node;
    std::string key;
    int key_line{0};
    std::unordered_set<std::string> seen;
  };

  template <class Number>
  static bool read(std::string_view text, Number& out) {
    const auto [end, failed] = std::from_chars(text.data(), text.data() + text.size(), out);
    return failed == std::errc{} && end == text.data() + text.size();
  }

  bool refuse(std::string what) {
    complaint = std::move(what);
    return false;
  }

  /// Place `value` into the innermost open object or array; returns where it now lives and its node.
  std::pair<json*, int> place(json value) {
    const int here = line();
    if (levels_.empty()) {
      source_.value = std::move(value);
      return {&source_.value, source_.lines.add(-1, "", here)};
    }
    Level& level = levels_.back();
    if (level.value->is_array()) {
      level.value->push_back(std::move(value));
      return {&level.value->back(), source_.lines.add(level.node, std::to_string(level.value->size() - 1), here)};
    }
    json& member = (*level.value)[level.key] = std::move(value);
    return {&member, source_.lines.add(level.node, level.key, level.key_line)};
  }

  bool put(json value) {
    place(std::move(value));
    return true;
  }

  bool open(json value) {
    if (levels_.size() >= kMaxDepth) return refuse("nesting over " + std::to_string(kMaxDepth) + " deep");
    const auto [where, node] = place(std::move(value));
    levels_.push_back({where, node, {}, 0, {}});
    return true;
  }

  bool close() {
    levels_.pop_back();
    return true;
  }

  Source& source_;
  const rapidjson::MemoryStream& stream_;
  const char* counted_{nullptr};
  int line_{1};
  std::vector<Level> levels_;
};

struct NoOutput {
  using Ch = char;
  void Put(char) {}
};

/// Line of the first byte that is not UTF-8 (or is NUL); nothing when all is well. Comments count too.
std::optional<int> line_of_bad_text(std::string_view text) {
  rapidjson::MemoryStream in(text.data(), text.size());
  NoOutput out;
  while (in.Tell() < text.size()) {
    const std::size_t at = in.Tell();
    if (text[at] == '\0' || !rapidjson::UTF8<>::Validate(in, out) || in.Tell() > text.size())
      return 1 + static_cast<int>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n'));
  }
  return std::nullopt;
}

Error refused(const std::string& path, int line, const std::string& what) {
  return {ErrorKind::bad_file, path + ":" + std::to_string(line) + ": " + what};
}

}  // namespace

Result<Source> parse_json(std::string_view text, std::string path) {
  if (text.size() > kMaxFileBytes)
    return Error{ErrorKind::bad_file, path + ": found " + std::to_string(text.size()) + " bytes; expected at most 1 MiB"};
  if (const auto line = line_of_bad_text(text)) return refused(path, *line, "found bytes that are not UTF-8 text");
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);

  Source source;
  source.path = std::move(path);
  rapidjson::MemoryStream stream(text.data(), text.size());
  rapidjson::Reader reader;
  Builder builder(source, stream);
  constexpr unsigned kFlags = rapidjson::kParseCommentsFlag | rapidjson::kParseValidateEncodingFlag | rapidjson::kParseNumbersAsStringsFlag;
  const rapidjson::ParseResult result = reader.Parse<kFlags>(stream, builder);
  if (!result) {
    const auto at = text.begin() + static_cast<std::ptrdiff_t>(std::min(result.Offset(), text.size()));
    const int line = 1 + static_cast<int>(std::count(text.begin(), at, '\n'));
    if (!builder.complaint.empty()) return refused(source.path, builder.line(), "found " + builder.complaint);
    return refused(source.path, line, std::string("not JSON: ") + rapidjson::GetParseError_En(result.Code()));
  }
  return source;
}

}  // namespace midstick::script
