#include "daemon/report/table.hpp"

#include <algorithm>
#include <vector>

#include "daemon/report/cause_text.hpp"
#include "daemon/report/list.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/source.hpp"
#include "daemon/report/text.hpp"
#include "daemon/report/time_spent.hpp"

namespace midstick::report {
namespace {

constexpr int kWideFrom = 72;
constexpr int kVerdictWidth = 12;  // "inconclusive"
constexpr int kSamplesWidth = 7;
constexpr int kGap = 2;

std::string indented(const std::string& text, int indent, const TerminalStyle& style) {
  std::string out;
  const std::string margin(static_cast<std::size_t>(indent), ' ');
  for (const auto& line : wrapped(shown(with_micro_sign(text), style), style.width - indent, style)) out += margin + line + "\n";
  return out;
}

const char* verdict_text(const judge::CheckResult& check) { return check.not_run.empty() ? judge::name(check.verdict) : "not run"; }

struct Row {
  std::string name, measured, limit, samples;
};

Row row_of(const judge::CheckResult& check, const TerminalStyle& style) {
  Row row;
  row.name = shown(check.name, style);
  const auto* head = headline(check);
  if (head == nullptr) {
    row.measured = row.limit = row.samples = "-";
    return row;
  }
  row.measured = shown(measured_text(*head), style);
  row.limit = shown(limit_text(*head), style);
  row.samples = std::to_string(head->samples);
  return row;
}

struct Widths {
  int name{5}, measured{8}, limit{5};
};

/// Columns as wide as their content; name, then limit, then measured give way when the line would be too long.
Widths widths_of(const std::vector<Row>& rows, const TerminalStyle& style) {
  Widths w;
  for (const auto& r : rows) {
    w.name = std::max(w.name, columns(r.name));
    w.measured = std::max(w.measured, columns(r.measured));
    w.limit = std::max(w.limit, columns(r.limit));
  }
  if (!style.cut) return w;
  const int room = style.width - kVerdictWidth - kSamplesWidth - 4 * kGap;
  const auto shrink = [&](int& column, int least) {
    const int over = w.name + w.measured + w.limit - room;
    if (over > 0) column = std::max(std::min(column, least), column - over);
  };
  shrink(w.name, 12);
  shrink(w.limit, 12);
  shrink(w.measured, 10);
  shrink(w.name, 5);
  return w;
}

std::string right(const std::string& text, int width, const TerminalStyle& style) {
  const int pad = width - columns(text);
  return pad > 0 ? std::string(static_cast<std::size_t>(pad), ' ') + text : fit(text, width, style);
}

std::string wide_table(const judge::RunResult& result, const TerminalStyle& style) {
  std::vector<Row> rows;
  for (const auto& check : result.checks) rows.push_back(row_of(check, style));
  const auto w = widths_of(rows, style);
  const std::string gap(kGap, ' ');
  const auto line = [&](const Row& r, const std::string& verdict) {
    return fit(r.name, w.name, style) + gap + verdict + gap + fit(r.measured, w.measured, style) + gap + fit(r.limit, w.limit, style) +
           gap + right(r.samples, kSamplesWidth, style) + "\n";
  };
  std::string out = line({"check", "measured", "limit", "samples"}, fit("verdict", kVerdictWidth, style));
  std::string rule;
  const int length = w.name + w.measured + w.limit + kVerdictWidth + kSamplesWidth + 4 * kGap;
  for (int i = 0; i < length; ++i) rule += style.utf8 ? "─" : "-";
  out += rule + "\n";
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto& check = result.checks[i];
    out += line(rows[i], coloured(fit(verdict_text(check), kVerdictWidth, style), check.verdict, style));
    // A name that had to be cut is given in full with its reason.
    const bool cut = columns(rows[i].name) > w.name;
    out += indented(cut ? check.name + ": " + check.summary : check.summary, kGap, style);
    for (const auto& line : cause_lines(check)) out += indented(line, kGap, style);
  }
  return out;
}

std::string narrow_table(const judge::RunResult& result, const TerminalStyle& style) {
  std::string out;
  for (const auto& check : result.checks) {
    const auto row = row_of(check, style);
    out += coloured(verdict_text(check), check.verdict, style) + "\n";
    out += indented(check.name, kGap, style);
    if (headline(check) != nullptr) {
      out += indented("measured " + row.measured, 2 * kGap, style);
      out += indented("limit " + row.limit, 2 * kGap, style);
      out += indented(row.samples + (row.samples == "1" ? " sample" : " samples"), 2 * kGap, style);
    }
    out += indented(check.summary, 2 * kGap, style);
    for (const auto& line : cause_lines(check)) out += indented(line, 2 * kGap, style);
  }
  return out;
}

}  // namespace

std::string result_table(const judge::RunResult& result, const TerminalStyle& style) {
  std::string out;
  if (!result.checks.empty()) out += style.width >= kWideFrom ? wide_table(result, style) : narrow_table(result, style);
  out += "\n" + coloured(judge::name(result.verdict), result.verdict, style) + "\n";
  return out + indented(result.summary, kGap, style) + indented(time_line(result), kGap, style);
}

}  // namespace midstick::report
