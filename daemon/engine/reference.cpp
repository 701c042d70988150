#include "daemon/engine/reference.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "daemon/engine/player.hpp"
#include "daemon/engine/recorder.hpp"

namespace midstick::engine {
namespace {

constexpr HostSpan kClockEvery = host_ms(50), kLongestWait = host_ms(20);

/// All rises of the line in `seconds`.
Result<std::vector<capture::Edge>> watch(Session& session, std::uint8_t line, double seconds) {
  Recorder recorder;
  session.link().start(kRefreshMs, static_cast<std::uint8_t>(1u << line), session.now());
  const int suspicions = session.clock().suspicions();
  const HostTime until = session.now() + HostSpan{static_cast<std::int64_t>(seconds * 1e9)};
  const auto sink = [&](const link::LinkEvent& e) { recorder.take(e); };
  std::optional<Error> trouble;
  while (!trouble && session.now() < until) {
    session.sample_clock(kClockEvery);
    if (auto s = session.step(std::min(until, session.now() + kLongestWait), sink); !s) return s.error();
    trouble = recorder.trouble();
    if (session.stop_requested()) trouble = Error{ErrorKind::stopped, "stopped by the operator"};
    if (session.clock().suspicions() != suspicions) trouble = Error{ErrorKind::bench_unfit, "the board's clock contradicted itself"};
  }
  session.make_safe();
  if (trouble) return *trouble;
  std::vector<capture::Edge> rises;
  std::ranges::copy_if(recorder.capture().response, std::back_inserter(rises),
                       [&](const capture::Edge& e) { return e.line == line && e.level; });
  std::ranges::stable_sort(rises, {}, &capture::Edge::at);
  return rises;
}

}  // namespace

std::optional<std::uint8_t> capture_line(const std::string& name) {
  constexpr const char* kLines[] = {"R1", "R2", "P1", "P2", "P3", "P4", "P5", "P6"};
  const auto found = std::ranges::find(kLines, name);
  if (found == std::end(kLines)) return std::nullopt;
  return static_cast<std::uint8_t>(found - std::begin(kLines));
}

Result<ReferenceReport> hold_against_reference(Session& session, std::uint8_t line, double seconds) {
  const auto& hello = session.link().hello();
  if (line >= hello.capture_lines + hello.pin_change_lines) return Error{ErrorKind::usage, "this board does not have the reference's line"};
  const auto rises = watch(session, line, seconds);
  if (!rises) return rises.error();
  std::vector<BoardTime> stamps;
  double half_width = 1;
  for (const auto& e : *rises) {
    stamps.push_back(e.at);
    half_width = std::max<double>(half_width, e.half_width);
  }
  const auto found = clock::against_reference(stamps, half_width);
  if (!found)
    return Error{ErrorKind::bench_unfit,
                 "no reference on that line: " + std::to_string(stamps.size()) + " rises, of which no five stand whole seconds apart"};
  const clock::ClockMap map = session.clock().whole_map();
  ReferenceReport report{*found, 0, std::hypot(found->uncertainty_ppm, map.uncertainty_ppm)};
  report.host_ppm = ((1 + found->board_ppm / 1e6) / (1 + map.ppm() / 1e6) - 1) * 1e6;
  return report;
}

}  // namespace midstick::engine
