#include "daemon/report/list.hpp"

#include <algorithm>
#include <utility>

namespace midstick::report {
namespace {

constexpr int kGap = 2;
constexpr int kLeastLast = 24;  // columns: fewer of a sentence say nothing

using Row = std::vector<std::string>;

std::string margin(int columns) { return std::string(static_cast<std::size_t>(columns), ' '); }

std::string without_trailing_spaces(std::string line) {
  line.erase(line.find_last_not_of(' ') + 1);
  return line;
}

/// All cells but the last, each in its column.
std::string front(const Row& row, const std::vector<int>& widths, const TerminalStyle& style) {
  std::string line;
  for (std::size_t i = 0; i < widths.size(); ++i) line += fit(row[i], widths[i], style) + margin(kGap);
  return line;
}

/// The last cell below its row.
std::string under(const std::string& text, Last last, const TerminalStyle& style) {
  std::string out;
  const int width = style.width - kGap;
  if (last == Last::cut) return text.empty() ? "" : margin(kGap) + without_trailing_spaces(fit(text, width, style)) + "\n";
  for (const auto& line : wrapped(text, width, style)) out += margin(kGap) + line + "\n";
  return out;
}

std::string stacked(const Row& heads, const Row& row, const TerminalStyle& style) {
  std::string out;
  for (std::size_t i = 0; i < row.size(); ++i) {
    if (row[i].empty()) continue;
    const std::string text = i + 1 == row.size() ? row[i] : heads[i] + " " + row[i];
    const int indent = i == 0 ? 0 : kGap;
    for (const auto& line : wrapped(text, style.width - indent, style)) out += margin(indent) + line + "\n";
  }
  return out;
}

}  // namespace

std::vector<std::string> wrapped(const std::string& text, int width, const TerminalStyle& style) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t at = 0;
  while (at < text.size()) {
    const auto space = std::min(text.find(' ', at), text.size());
    const auto word = text.substr(at, space - at);
    at = space + 1;
    if (word.empty()) continue;
    if (!line.empty() && columns(line) + 1 + columns(word) > width) lines.push_back(std::exchange(line, ""));
    line += line.empty() ? word : " " + word;
    if (columns(line) > width) line = fit(line, width, style);
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

std::string list_text(const std::vector<std::string>& heads, const std::vector<std::vector<std::string>>& rows, Last last,
                      const TerminalStyle& style) {
  std::vector<Row> safe{heads};
  for (const Row& row : rows) {
    safe.emplace_back();
    for (const auto& cell : row) safe.back().push_back(shown(cell, style));
  }
  std::vector<int> widths(heads.size() - 1, 0);
  for (const Row& row : safe)
    for (std::size_t i = 0; i < widths.size(); ++i) widths[i] = std::max(widths[i], columns(row[i]));
  int taken = 0;
  for (const int w : widths) taken += w + kGap;

  std::string out;
  if (style.cut && taken - kGap > style.width) {
    for (std::size_t i = 1; i < safe.size(); ++i) out += stacked(heads, safe[i], style);
    return out;
  }
  const int left = style.width - taken;
  const bool below = style.cut && (last == Last::whole || left < kLeastLast);
  for (std::size_t i = 0; i < safe.size(); ++i) {
    const std::string line = front(safe[i], widths, style), &text = safe[i].back();
    if (!below)
      out += without_trailing_spaces(line + (style.cut ? fit(text, left, style) : text)) + "\n";
    else
      out += without_trailing_spaces(line) + "\n" + (i > 0 ? under(text, last, style) : "");
  }
  return out;
}

}  // namespace midstick::report
