#include "daemon/judge/pulses.hpp"

#include <algorithm>

namespace midstick::judge {

PulseTrain::PulseTrain(std::span<const capture::Edge> edges, std::uint8_t line, BoardTime begin, BoardTime end) {
  const capture::Edge* rise = nullptr;
  bool seen = false;
  for (const capture::Edge& e : edges) {
    if (e.line != line || e.at < begin || e.at > end) continue;
    if (e.level) {
      if (rise) ++broken_;
      rise = &e;
    } else if (rise) {
      pulses_.push_back({rise->at, e.at, rise->half_width, e.half_width, rise->crowded || e.crowded});
      rise = nullptr;
    } else if (seen) {
      ++broken_;
    } else {
      began_high_ = true;
    }
    seen = true;
  }
  if (rise) open_rise_ = rise->at;
}

std::span<const Pulse> PulseTrain::within(BoardTime begin, BoardTime end) const {
  // Pulses of a line do not overlap, so rises and falls are sorted alike.
  const auto first = std::partition_point(pulses_.begin(), pulses_.end(), [&](const Pulse& p) { return p.rise < begin; });
  const auto last = std::partition_point(first, pulses_.end(), [&](const Pulse& p) { return p.fall <= end; });
  return {first, last};
}

std::span<const Pulse> PulseTrain::falling_in(BoardTime begin, BoardTime end) const {
  const auto first = std::partition_point(pulses_.begin(), pulses_.end(), [&](const Pulse& p) { return p.fall <= begin; });
  const auto last = std::partition_point(first, pulses_.end(), [&](const Pulse& p) { return p.fall <= end; });
  return {first, last};
}

const Pulse* PulseTrain::last_fallen(BoardTime t) const {
  const auto after = std::partition_point(pulses_.begin(), pulses_.end(), [&](const Pulse& p) { return p.fall <= t; });
  return after == pulses_.begin() ? nullptr : &*(after - 1);
}

bool PulseTrain::high_at(BoardTime t) const {
  const auto next = std::partition_point(pulses_.begin(), pulses_.end(), [&](const Pulse& p) { return p.fall <= t; });
  if (next != pulses_.end()) return next->rise <= t;
  return open_rise_ && *open_rise_ <= t;
}

std::span<const capture::Edge> edges_within(const std::vector<capture::Edge>& edges, BoardTime begin, BoardTime end) {
  const auto first = std::partition_point(edges.begin(), edges.end(), [&](const capture::Edge& e) { return e.at < begin; });
  const auto last = std::partition_point(first, edges.end(), [&](const capture::Edge& e) { return e.at <= end; });
  return {first, last};
}

}  // namespace midstick::judge
