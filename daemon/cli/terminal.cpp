#include "daemon/cli/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>

namespace midstick::cli {

report::TerminalStyle style_of(int descriptor) {
  report::Environment e;
  e.is_terminal = ::isatty(descriptor) == 1;
  winsize size{};
  if (e.is_terminal && ::ioctl(descriptor, TIOCGWINSZ, &size) == 0) e.columns = size.ws_col;
  e.no_color = std::getenv("NO_COLOR");
  e.term = std::getenv("TERM");
  e.lc_all = std::getenv("LC_ALL");
  e.lc_ctype = std::getenv("LC_CTYPE");
  e.lang = std::getenv("LANG");
  return report::terminal_style(e);
}

StatusLine::StatusLine() : active_(::isatty(STDERR_FILENO) == 1), style_(style_of(STDERR_FILENO)) {}

void StatusLine::show(const std::string& line) {
  if (!active_) return;
  std::fprintf(stderr, "\r\033[K%s", line.c_str());
  std::fflush(stderr);
  drawn_ = true;
}

void StatusLine::clear() {
  if (!drawn_) return;
  std::fputs("\r\033[K", stderr);
  std::fflush(stderr);
  drawn_ = false;
}

}  // namespace midstick::cli
