#include "daemon/sweep/readings.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::sweep {
namespace {

constexpr double kCrowdedUs = 1;  ///< stamps known worse than this are no reading, while there are better ones

std::vector<double> widths(const Lines& lines, const judge::PulseTrain& train, BoardTime begin, BoardTime end, double& common) {
  std::vector<double> good, all;
  double good_u = 0, all_u = 0;
  for (const auto& p : train.within(begin, end)) {
    const double u = lines.uncertainty(p);
    all.push_back(lines.us(p)), all_u = std::max(all_u, u);
    if (u <= kCrowdedUs) good.push_back(lines.us(p)), good_u = std::max(good_u, u);
  }
  common = good.empty() ? all_u : good_u;
  return good.empty() ? all : good;
}

/// Scatter of single pulses about their reading's mean, pooled over all readings of each output.
struct Pool {
  double squares{0};
  std::int64_t freedom{0};
  double sd() const { return freedom > 0 ? std::sqrt(squares / static_cast<double>(freedom)) : 0; }
};

}  // namespace

Lines::Lines(const capture::Capture& capture, const script::ControllerDescription& controller) : capture_(&capture) {
  for (const auto& pin : controller.inputs) inputs_.emplace_back(capture.stimulus, pin.line_no, capture.begin, capture.end);
  for (const auto& pin : controller.outputs) outputs_.emplace_back(capture.response, pin.line_no, capture.begin, capture.end);
}

double Lines::uncertainty(const judge::Pulse& p) const {
  return judge::span_uncertainty_us(*capture_, p.width(), p.rise_half, p.fall_half);
}

Level level_of(std::span<const double> us, double common_u) {
  const auto s = statistics::summarise(us);
  const std::size_t third = us.size() / Level::kPickingShare;
  return {s.mean,
          common_u,
          s.samples ? s.max - s.min : 0,
          static_cast<int>(s.samples),
          0,
          statistics::summarise(us.first(third)).mean,
          statistics::summarise(us.subspan(third)).mean};
}

void add_scatter(Level& level, double sd) {
  constexpr double kCoverage = 2;  // of a pool of many degrees of freedom
  if (level.pulses == 0) return;
  level.scatter_u = kCoverage * sd / std::sqrt(level.pulses);
  level.u = std::hypot(level.u, level.scatter_u);
}

std::vector<Leg> legs_of(const capture::Segment& segment) {
  std::vector<Leg> out;
  for (const auto& mark : segment.marks) {
    if (!out.empty()) out.back().end = mark.at;
    out.push_back({mark.label, mark.at, segment.end, mark.values});
  }
  return out;
}

std::vector<Reading> readings(const Lines& lines, const std::vector<Leg>& legs, const std::string& label, double read_ms) {
  std::vector<Reading> out;
  std::vector<Pool> pools(lines.outputs());
  for (const Leg& leg : legs) {
    if (!leg.label.starts_with(label)) continue;
    const BoardTime settled = std::max(leg.begin, leg.end - lines.ticks_ms(read_ms));
    Reading r;
    r.leg = leg.label;
    double common = 0;
    for (std::size_t i = 0; i < lines.inputs(); ++i) {
      const auto sent = widths(lines, lines.input(i), leg.begin, leg.end, common);
      if (!sent.empty()) r.in.push_back(statistics::summarise(sent).mean);
    }
    for (std::size_t o = 0; o < lines.outputs(); ++o) {
      const auto us = widths(lines, lines.output(o), settled, leg.end, common);
      const auto s = statistics::summarise(us);
      r.out.push_back(level_of(us, common));
      if (r.out.back().settled()) {
        pools[o].squares += s.sd * s.sd * static_cast<double>(s.samples - 1);
        pools[o].freedom += s.samples - 1;
      }
    }
    if (r.in.size() == lines.inputs()) out.push_back(std::move(r));
  }
  for (Reading& r : out)
    for (std::size_t o = 0; o < r.out.size(); ++o) add_scatter(r.out[o], pools[o].sd());
  return out;
}

std::vector<Moving> moving(const Lines& lines, const Leg& leg, std::size_t o, double after_ms) {
  std::vector<Moving> out;
  for (const auto& p : lines.output(o).within(leg.begin, leg.end + lines.ticks_ms(after_ms)))
    out.push_back({lines.ms(p.rise - leg.begin), lines.us(p)});
  return out;
}

}  // namespace midstick::sweep
