// One line that says how far a run has come; drawn over itself by whoever owns the terminal.
//
// "static-mix  3/9  ████████░░░░░░░░  1:12 left". Pure: state in, text out, never wider than the style's width, no line feed,
// no cursor movement. Fractions outside 0..1 are clamped.
#pragma once

#include <string>

#include "daemon/report/style.hpp"

namespace midstick::report {

struct Progress {
  std::string check;     ///< name of the check that is playing
  int number{0}, of{0};  ///< 1-based place of it, and how many there are
  double done_ms{0};     ///< board time played
  double total_ms{0};    ///< board time of the whole plan
};

std::string progress_line(const Progress& progress, const TerminalStyle& style);

/// What a run is told to do where no check plays: powering up before the first, the last one between two, judging after all.
class ProgressWords {
 public:
  /// `now` as the bench tells it, its check empty and its number 0 where none plays.
  Progress told(Progress now);

 private:
  Progress last_;
};

}  // namespace midstick::report
