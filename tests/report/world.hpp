// A made-up run to report on: plan, capture, verdicts and facts, all by hand and the same every time. No judge, no bench.
#pragma once

#include <memory>
#include <string>

#include "daemon/report/source.hpp"

namespace midstick::report::test {

struct World {
  script::Plan plan;
  capture::Capture capture;
  judge::RunResult result;
  RunFacts facts;
  Source source() const { return {plan, capture, result, facts, "midstick 0.1.0"}; }
};

/// Tracked mower, `seconds` of pulses on two inputs and two outputs at 50 Hz, the board's clock 812 ppm fast. Checks: neutral and
/// output-frame pass, static-mix and signal-loss fail, recovery is inconclusive.
World mower_world(int seconds = 12);

/// mower_world() whose last check was not run.
World world_with_a_check_left_out();

/// The same with nothing in it: no checks, no edges, cut short.
World empty_world();

/// Pulses on one line: rise at `first`, then every `period`, all `width` wide; ticks.
void add_pulses(std::vector<capture::Edge>& edges, std::uint8_t line, std::int64_t first, std::int64_t period, std::int64_t width,
                int count);
void sort_edges(std::vector<capture::Edge>& edges);

/// Text of a file; fails the test that asks when it is not there.
std::string read_text(const std::string& path);

/// Runs a command; its standard output with standard error behind it, and its exit code.
struct Ran {
  int exit_code{-1};
  std::string output;
};
Ran run_command(const std::string& command);

/// A folder of this test process's own, removed at its end.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  std::string path(const std::string& name = "") const { return name.empty() ? path_ : path_ + "/" + name; }
  std::string write(const std::string& name, const std::string& text) const;

 private:
  std::string path_;
};

}  // namespace midstick::report::test
