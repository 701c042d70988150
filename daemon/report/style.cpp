#include "daemon/report/style.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

constexpr int kNarrowest = 20;
constexpr int kWidest = 200;
constexpr int kUsual = 80;

bool given(const char* text) { return text != nullptr && *text != '\0'; }

bool names_utf8(const char* locale) {
  std::string plain;
  for (const char c : std::string_view(locale))
    if (std::isalnum(static_cast<unsigned char>(c)) != 0) plain += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return plain.find("utf8") != std::string::npos;
}

}  // namespace

TerminalStyle terminal_style(const Environment& e) {
  TerminalStyle style;
  style.width = e.columns > 0 ? std::clamp(e.columns, kNarrowest, kWidest) : kUsual;
  style.cut = e.is_terminal;
  style.colour = e.is_terminal && !given(e.no_color) && given(e.term) && std::string_view(e.term) != "dumb";
  const char* locale = given(e.lc_all) ? e.lc_all : given(e.lc_ctype) ? e.lc_ctype : e.lang;
  style.utf8 = given(locale) && names_utf8(locale);
  return style;
}

std::string shown(std::string_view text, const TerminalStyle& style) {
  // Control characters are made visible first: a name from a file must not be able to move the cursor.
  const auto safe = visible(text, false);
  return style.utf8 ? safe : ascii(safe);
}

int columns(std::string_view text) {
  int count = 0;
  for (std::size_t at = 0; at < text.size(); ++count) next_code_point(text, at);
  return count;
}

std::string fit(std::string_view text, int width, const TerminalStyle& style) {
  if (width <= 0) return "";
  const int have = columns(text);
  if (have <= width) return std::string(text) + std::string(static_cast<std::size_t>(width - have), ' ');
  if (!style.cut) return std::string(text);
  const std::string_view more = style.utf8 ? "…" : "...";
  const int keep = std::max(0, width - columns(more));
  std::size_t at = 0;
  for (int i = 0; i < keep; ++i) next_code_point(text, at);
  return std::string(text.substr(0, at)) + std::string(width >= columns(more) ? more : ".");
}

std::string coloured(std::string_view text, judge::Verdict verdict, const TerminalStyle& style) {
  if (!style.colour) return std::string(text);
  const char* code = verdict == judge::Verdict::pass ? "32" : verdict == judge::Verdict::fail ? "1;31" : "33";
  return fmt::format("\x1b[{}m{}\x1b[0m", code, text);
}

}  // namespace midstick::report
