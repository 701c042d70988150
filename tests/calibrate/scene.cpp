#include "tests/calibrate/scene.hpp"

#include <algorithm>
#include <atomic>

#include "daemon/engine/player.hpp"
#include "daemon/engine/session.hpp"
#include "fixtures/virtual/random.hpp"

namespace midstick::calibrate {
namespace {

using virtual_bench::Random;
using virtual_bench::VirtualBench;
using virtual_bench::Wire;

constexpr double kFirstMs = 300;  // the player's lead and some

double between(Random& random, double low, double high) { return low + (high - low) * static_cast<double>(random.next() >> 11) * 0x1p-53; }

script::ControllerDescription lines_alone(std::uint8_t responses) {
  script::ControllerDescription description;
  description.name = "none";
  for (std::uint8_t line = 0; line < 8; ++line)
    if (responses & (1u << line)) description.outputs.push_back({std::to_string(line), "", line, 0, 0});
  return description;
}

/// A receiver's channels: 20 ms frames, one channel after another, a new width each frame.
engine::Programme stimulus_of(const Scene& scene, Random& random) {
  engine::Programme programme;
  const double length_ms = scene.seconds * 1e3;
  for (double frame = 20; frame + 25 < length_ms; frame += 20) {
    double at_ms = frame + between(random, 0, 1);
    for (int line = 0; line < scene.stimulus_lines; ++line) {
      const double width = between(random, 1, 2);
      for (const auto& [ms, level] : {std::pair{at_ms, true}, std::pair{at_ms + width, false}})
        programme.timeline.edges.push_back({{static_cast<std::int64_t>(ms * 1e6)}, static_cast<std::uint8_t>(line), level});
      at_ms += width + between(random, 0.1, 0.3);
    }
  }
  std::ranges::stable_sort(programme.timeline.edges, {}, &script::PlannedEdge::at);
  programme.timeline.length = {static_cast<std::int64_t>(length_ms * 1e6)};
  return programme;
}

Status inject(VirtualBench& bench, const Scene& scene, Random& random) {
  std::vector<virtual_bench::InjectedEdge> edges;
  const double begin_ms = static_cast<double>(bench.now().count) / 1e6 + kFirstMs, end_ms = begin_ms + scene.seconds * 1e3 - kFirstMs;
  for (std::uint8_t line = 0; line < 8; ++line) {
    if (!(scene.responses & (1u << line))) continue;
    for (double ms = begin_ms + between(random, 0, 20); ms + 3 < end_ms; ms += between(random, 14, 25)) {
      edges.push_back({static_cast<std::int64_t>(ms * 1e9), line, true});
      edges.push_back({static_cast<std::int64_t>((ms + between(random, 0.8, 2.2)) * 1e9), line, false});
    }
  }
  std::ranges::stable_sort(edges, {}, &virtual_bench::InjectedEdge::at_ps);
  return bench.inject(edges);
}

/// Edges of one list and wire, read and true side by side; false when their numbers or levels differ.
bool pair_up(const std::vector<capture::Edge>& read, const virtual_bench::TruthRecord& truth, Wire wire, HostTime from,
             std::vector<std::vector<SeenEdge>>& into) {
  into.assign(8, {});
  std::vector<std::size_t> next(8, 0);
  for (const auto& e : read) into[e.line].push_back({e, 0});
  for (const auto& e : truth) {
    if (e.wire != wire || e.true_ps < from.count * 1000) continue;
    auto& line = into[e.line];
    if (next[e.line] >= line.size() || line[next[e.line]].read.level != e.level) return false;
    line[next[e.line]++].true_ps = e.source_ps;
  }
  for (std::size_t line = 0; line < into.size(); ++line)
    if (next[line] != into[line].size()) return false;
  return true;
}

}  // namespace

void Seen::correct(const capture::Calibration& calibration) {
  capture::apply(calibration, capture);
  // Edges of one line keep their order, so the corrected list goes line by line into the places of the old one.
  for (auto [edges, lines] : {std::pair{&capture.stimulus, &stimulus}, std::pair{&capture.response, &response}}) {
    std::vector<std::size_t> next(lines->size(), 0);
    for (const auto& e : *edges) (*lines)[e.line][next[e.line]++].read = e;
  }
}

Seen play_scene(const Scene& scene) {
  static const std::atomic<bool> never{false};
  Seen seen;
  Random random(scene.seed);
  virtual_bench::VirtualBenchOptions options;
  options.board_ppm = scene.board_ppm;
  options.seed = scene.seed;
  options.serial.usb_slot_us = scene.usb_slot_us;
  auto bench = VirtualBench::make(options);
  if (!bench) return seen.trouble = bench.error().message, seen;
  engine::Session session(**bench, never);
  if (auto s = session.open(); !s) return seen.trouble = s.error().message, seen;
  if (auto s = session.settle_clock(engine::kClockPpm, engine::kClockPatience); !s) return seen.trouble = s.error().message, seen;
  const HostTime from = session.now();
  const auto programme = stimulus_of(scene, random);
  if (auto s = inject(**bench, scene, random); !s) return seen.trouble = s.error().message, seen;
  auto played = engine::play(session, programme, lines_alone(scene.responses), {});
  if (played.cut_short) return seen.trouble = played.cut_short->message, seen;
  const auto& truth = (*bench)->truth();
  seen.capture = std::move(played.capture);
  seen.true_ns_per_tick = 62.5 / (1 + scene.board_ppm / 1e6);
  if (!pair_up(seen.capture.stimulus, truth, Wire::stimulus, from, seen.stimulus)) seen.trouble = "stimulus differs from its truth";
  if (!pair_up(seen.capture.response, truth, Wire::response, from, seen.response)) seen.trouble = "responses differ from their truth";
  return seen;
}

}  // namespace midstick::calibrate
