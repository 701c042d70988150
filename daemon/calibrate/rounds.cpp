#include "daemon/calibrate/rounds.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/engine/player.hpp"

namespace midstick::calibrate {
namespace {

constexpr double kFrameMs = 20, kWidestMs = 2, kGapMs = 0.2;

/// Never in step with anything: multiples of the golden ratio, 0 to 1.
double spread(int i) {
  const double turns = i * 0.6180339887498949;
  return turns - std::floor(turns);
}

/// Servo pulses on `lines`, one after another in each frame, widths 1 to 2 ms.
engine::Programme pulses_on(const std::vector<std::uint8_t>& lines, int frames) {
  engine::Programme programme;
  auto& timeline = programme.timeline;
  int drawn = 0;
  for (int frame = 0; frame < frames; ++frame) {
    double ms = (frame + 1) * kFrameMs + spread(frame);
    for (const std::uint8_t line : lines) {
      const double width = 1 + (kWidestMs - 1) * spread(drawn++);
      for (const auto& [at, level] : {std::pair{ms, true}, std::pair{ms + width, false}})
        timeline.edges.push_back({{static_cast<std::int64_t>(at * 1e6)}, line, level});
      ms += kWidestMs + kGapMs;
    }
  }
  std::ranges::stable_sort(timeline.edges, {}, &script::PlannedEdge::at);
  timeline.length = {static_cast<std::int64_t>((frames + 2) * kFrameMs * 1e6)};
  return programme;
}

/// A description with no controller in it: only says that all eight capture lines are listened to.
script::ControllerDescription all_captures() {
  script::ControllerDescription description;
  description.name = "none: calibration";
  for (const char* name : {"R1", "R2", "P1", "P2", "P3", "P4", "P5", "P6"})
    description.outputs.push_back({name, name, static_cast<std::uint8_t>(description.outputs.size()), 0, 0});
  return description;
}

Result<capture::Capture> play(engine::Session& session, const engine::Programme& programme) {
  auto played = engine::play(session, programme, all_captures(), {});
  if (played.cut_short) return *played.cut_short;
  return std::move(played.capture);
}

/// A person at the jumpers takes minutes; the clock is asked for again, for a rate that is minutes old says little.
Status settle(engine::Session& session) { return session.settle_clock(engine::kClockPpm, engine::kClockPatience); }

}  // namespace

Result<Rounds> play_rounds(engine::Session& session, Jumpers& jumpers) {
  Rounds rounds;
  const auto lines = session.link().hello().stimulus_lines;
  for (std::uint8_t line = 0; line < lines; ++line) {
    if (auto s = jumpers.loop(line); !s) return s.error();
    if (auto s = settle(session); !s) return s.error();
    auto loop = play(session, pulses_on({line}, kLoopPulses));
    if (!loop) return loop.error();
    rounds.loops.push_back(loop.take());
  }
  const int frames = static_cast<int>(kSourceSeconds * 1e3 / kFrameMs);
  const auto there = jumpers.pulse_source(HostSpan{static_cast<std::int64_t>(kSourceSeconds * 1e9)});
  if (!there) return there.error();
  if (!there.value()) return rounds;
  if (auto s = settle(session); !s) return s.error();
  std::vector<std::uint8_t> all;
  for (std::uint8_t line = 0; line < lines; ++line) all.push_back(line);
  auto source = play(session, pulses_on(all, frames));
  if (!source) return source.error();
  rounds.source = source.take();
  return rounds;
}

}  // namespace midstick::calibrate
