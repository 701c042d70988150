// How the terminal can show things: width, colour, character set. Decided once from the environment, then passed as a value.
//
// Pure; nothing here asks the system. Colour never carries the meaning alone: the verdict is also a word.
#pragma once

#include <string>
#include <string_view>

#include "daemon/judge/check.hpp"

namespace midstick::report {

struct TerminalStyle {
  int width{80};       ///< columns, at least 20
  bool colour{false};  ///< ANSI escape sequences allowed
  bool utf8{true};     ///< else plain ASCII
  bool cut{true};      ///< what is longer than its place is cut; not where no terminal is: a program or a file takes it whole
};

/// What the environment says; null where a variable is not set.
struct Environment {
  bool is_terminal{false};        ///< standard output is a terminal
  int columns{0};                 ///< as the terminal says; 0 unknown
  const char* no_color{nullptr};  ///< NO_COLOR: set and not empty means no colour (no-color.org)
  const char* term{nullptr};      ///< TERM: "dumb" or unset means no colour
  const char* lc_all{nullptr};    ///< LC_ALL, LC_CTYPE, LANG: the first that is set and not empty decides (POSIX, base definitions 8.2)
  const char* lc_ctype{nullptr};
  const char* lang{nullptr};
};

TerminalStyle terminal_style(const Environment& environment);

/// Text as this terminal can show it: no control characters, ASCII if it must be.
std::string shown(std::string_view text, const TerminalStyle& style);

/// Columns that text takes (already `shown`); every code point counts as one, so East Asian wide letters may run over.
int columns(std::string_view text);

/// Cut to at most `width` columns with an ellipsis, or padded to it. Left whole where the style does not cut.
std::string fit(std::string_view text, int width, const TerminalStyle& style);

/// Text in the colour of a verdict, or as it is where colour is off.
std::string coloured(std::string_view text, judge::Verdict verdict, const TerminalStyle& style);

}  // namespace midstick::report
