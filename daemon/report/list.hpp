// Lists for people and for pipes: a header line, columns as wide as what is in them, the last one text of any length.
//
// Where the style cuts (a terminal), no line is wider than it: the last column gets what is left of the line, or a line of its own below
// the row where too little is left, and on a terminal too narrow even for the other columns each row is stacked, one value a line. Where
// the style does not cut (a pipe), every row is one line and nothing is left out. Pure; text is made safe to show here.
#pragma once

#include <string>
#include <vector>

#include "daemon/report/style.hpp"

namespace midstick::report {

/// The last column on a terminal: cut to one line, or told whole below its row, broken into lines.
enum class Last { cut, whole };

/// `rows`: as many cells each as `heads`. Ends with a line feed; a list of no rows is its header alone.
std::string list_text(const std::vector<std::string>& heads, const std::vector<std::vector<std::string>>& rows, Last last,
                      const TerminalStyle& style);

/// Text broken at spaces into lines of at most `width` columns; a word longer than that is cut.
std::vector<std::string> wrapped(const std::string& text, int width, const TerminalStyle& style);

}  // namespace midstick::report
