// What the two programs know about the terminal they were started from.
#pragma once

#include <string>

#include "daemon/report/style.hpp"

namespace midstick::cli {

/// Style for a stream (STDOUT_FILENO or STDERR_FILENO), from the environment and the terminal's own width.
report::TerminalStyle style_of(int descriptor);

/// Draws one line over itself on standard error; nothing when that is not a terminal.
class StatusLine {
 public:
  StatusLine();
  ~StatusLine() { clear(); }
  StatusLine(const StatusLine&) = delete;
  StatusLine& operator=(const StatusLine&) = delete;
  const report::TerminalStyle& style() const { return style_; }
  void show(const std::string& line);
  void clear();

 private:
  bool active_;
  bool drawn_{false};
  report::TerminalStyle style_;
};

}  // namespace midstick::cli
