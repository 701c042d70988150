// Sections of report.html, and the small pieces they share. Internal to report/; same contract as html.hpp.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/report/source.hpp"

namespace midstick::report {

/// The page's style sheet, compiled in from page.css.
extern const char* const kPageCss;

/// "Pass", "Fail", "Inconclusive".
const char* verdict_word(judge::Verdict verdict);
/// Verdict as shape and word: a tick in a circle, a cross in an octagon, a question mark in a diamond.
std::string verdict_badge(const judge::CheckResult& check);  ///< "not run" where it was not
std::string verdict_badge(judge::Verdict verdict);

/// A table that turns into a list of blocks on a phone. Cells are HTML; the first of a row is its header.
struct Table {
  std::string caption;  ///< text
  std::vector<std::string> head;
  std::vector<std::vector<std::string>> rows;
  std::string columns;  ///< one character a column: n number, set right; w not broken into lines; t text
};
std::string html_table(const Table& table);

/// "2026-03-01 21:00:00 UTC" from "2026-03-01T21:00:00Z"; any other text as it is.
std::string html_time(const std::string& iso);

/// Place in the run, to 1 ms: "4.100 s".
std::string run_time(const capture::Capture& capture, BoardTime at);

/// One line of a description list; the value is text.
std::string html_fact(std::string_view term, std::string_view value);

/// Detail that leaves out the plots of checks that passed, and thins those of the others as far as it makes sense.
inline constexpr int kOnlyFailing = 0;

/// Section of one check. `detail`: columns a series is thinned to, or kOnlyFailing.
std::string html_check(const Source& source, std::size_t index, int detail);

/// Identity, clock, supply and events.
std::string html_bench(const Source& source);

/// What the run does not show, and the cautions.
std::string html_limits(const Source& source);

}  // namespace midstick::report
