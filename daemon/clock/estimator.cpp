#include "daemon/clock/estimator.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace midstick::clock {

void ClockEstimator::add(const ClockSample& sample) {
  ++taken_;
  last_ = sample.answered;
  if (line_.empty()) origin_ = sample;
  take(sample);
  double roomiest = roomiest_rate();
  if (slack(roomiest) < -settings_.tolerance_ns) {
    ++suspicions_;
    suspect_ = true;
    line_.clear();
    corridor_.clear();
    origin_ = sample;
    take(sample);
    roomiest = roomiest_rate();
  }
  refit(roomiest);
  if (good()) suspect_ = false;
}

void ClockEstimator::take(const ClockSample& sample) {
  line_.push_back(point(sample));
  corridor_.push_back(line_.back());
  if (line_.size() > kKept) thin();
}

ClockState ClockEstimator::state(HostTime now) const {
  if (taken_ > 0 && now - last_ > settings_.lost_after) return ClockState::lost;
  if (suspect_) return ClockState::suspect;
  return good() ? ClockState::locked : ClockState::acquiring;
}

bool ClockEstimator::good() const { return map_.samples >= settings_.least_samples && map_.uncertainty_ppm <= settings_.target_ppm; }

HostSpan ClockEstimator::next_query_after(HostSpan base) const {
  // Multiples of the golden ratio never fall in step with a period (USB slots, status frames, timer ticks).
  const double turns = taken_ * 0.6180339887498949;
  return {base.count + static_cast<std::int64_t>(static_cast<double>(base.count) * (turns - std::floor(turns)))};
}

ClockEstimator::Point ClockEstimator::point(const ClockSample& sample) const {
  Point p{};
  p.received = static_cast<double>((sample.board_received - origin_.board_received).count);
  p.sent = static_cast<double>((sample.board_sent - origin_.board_received).count);
  p.asked = static_cast<double>((sample.asked - origin_.asked).count);
  p.answered = static_cast<double>((sample.answered - origin_.asked).count);
  p.middle_tick = (p.received + p.sent) / 2;
  p.middle_ns = (p.asked + p.answered) / 2;
  p.half_ns = std::max(0.0, (p.answered - p.asked - (p.sent - p.received) * ClockMap::kNominalNsPerTick) / 2);
  return p;
}

/// Half the width, in ns, of the gap that all bounds leave for a line of this rate; negative when none fits. Concave in the rate.
double ClockEstimator::slack(double rate) const {
  double above = -std::numeric_limits<double>::infinity(), below = std::numeric_limits<double>::infinity();
  for (const Point& p : corridor_) {
    above = std::max(above, p.asked - rate * p.received);
    below = std::min(below, p.answered - rate * p.sent);
  }
  return (below - above) / 2;
}

/// Rate of the line with the largest slack, by golden section over the rates that are possible at all.
double ClockEstimator::roomiest_rate() const {
  constexpr double kGolden = 0.6180339887498949;
  double low = ClockMap::kNominalNsPerTick * (1 - settings_.widest_ppm / 1e6);
  double high = ClockMap::kNominalNsPerTick * (1 + settings_.widest_ppm / 1e6);
  double a = high - kGolden * (high - low), b = low + kGolden * (high - low);
  double at_a = slack(a), at_b = slack(b);
  for (int i = 0; i < 50; ++i) {
    if (at_a < at_b) {
      low = a;
      a = b;
      at_a = at_b;
      b = low + kGolden * (high - low);
      at_b = slack(b);
    } else {
      high = b;
      b = a;
      at_b = at_a;
      a = high - kGolden * (high - low);
      at_a = slack(a);
    }
  }
  return (low + high) / 2;
}

/// All rates for which a line fits, found by bisection on both sides of one that does.
RateBounds ClockEstimator::possible_rates(double inside) const {
  const auto edge = [&](double outside) {
    double in = inside;
    if (slack(outside) >= -settings_.tolerance_ns) return outside;
    for (int i = 0; i < 40; ++i) {
      const double middle = (in + outside) / 2;
      (slack(middle) >= -settings_.tolerance_ns ? in : outside) = middle;
    }
    return outside;
  };
  return {edge(ClockMap::kNominalNsPerTick * (1 - settings_.widest_ppm / 1e6)),
          edge(ClockMap::kNominalNsPerTick * (1 + settings_.widest_ppm / 1e6))};
}

/// Weighted least squares through the middles. Half a round trip bounds a middle's error, so its square weighs.
ClockEstimator::Line ClockEstimator::fit() const {
  double weights = 0, squares = 0, tick = 0, ns = 0;
  const auto weight = [&](const Point& p) { return 1 / std::pow(p.half_ns + settings_.floor_ns, 2); };
  for (const Point& p : line_) {
    weights += weight(p);
    squares += weight(p) * weight(p);
    tick += weight(p) * p.middle_tick;
    ns += weight(p) * p.middle_ns;
  }
  tick /= weights;
  ns /= weights;
  double xx = 0, xy = 0, residual = 0;
  for (const Point& p : line_) {
    xx += weight(p) * (p.middle_tick - tick) * (p.middle_tick - tick);
    xy += weight(p) * (p.middle_tick - tick) * (p.middle_ns - ns);
  }
  if (xx <= 0) return {ClockMap::kNominalNsPerTick, ns - ClockMap::kNominalNsPerTick * tick, std::numeric_limits<double>::infinity()};
  const double rate = xy / xx;
  for (const Point& p : line_) residual += weight(p) * std::pow(p.middle_ns - ns - rate * (p.middle_tick - tick), 2);
  const double effective = weights * weights / squares;  // samples of equal weight that would say as much
  if (effective <= 3) return {rate, ns - rate * tick, std::numeric_limits<double>::infinity()};
  // A few samples can agree by chance: never believe less than a tenth of what the round trips allow.
  const double variance = std::max(residual / weights, 0.01 / (weights / static_cast<double>(line_.size())));
  return {rate, ns - rate * tick, std::sqrt(variance * effective / (effective - 2) / (xx / weights) / effective)};
}

void ClockEstimator::refit(double roomiest) {
  const Line line = fit();
  bounds_ = possible_rates(roomiest);
  const double rate = std::clamp(line.rate, bounds_.low, bounds_.high);
  map_.boot_id = boot_id_;
  map_.samples = static_cast<int>(line_.size());
  const Point& newest = line_.back();
  map_.board_origin = origin_.board_received + BoardSpan{std::llround(newest.middle_tick)};
  // With the rate moved into the corridor the line still goes through the same middle of all points.
  const double ns = rate == line.rate ? line.at_zero + rate * std::round(newest.middle_tick) : newest.middle_ns;
  map_.host_origin = origin_.asked + HostSpan{std::llround(ns)};
  const double hard = std::max(bounds_.high - rate, rate - bounds_.low) / rate * 1e6;
  const double soft = settings_.coverage * line.rate_error / rate * 1e6 + std::abs(rate - line.rate) / rate * 1e6;
  const bool enough = map_.samples >= settings_.least_samples;
  map_.ns_per_tick = enough ? rate : ClockMap::kNominalNsPerTick;
  map_.uncertainty_ppm = enough ? std::min({hard, soft, 5000.0}) : 5000.0;
}

/// Half the samples; old ones stay for the long view. For the line every second one whatever its quality: a short round trip goes with
/// one kind of asymmetry, so choosing among old samples but not among new ones would tilt the line. Bounds cannot be tilted: the best stay.
void ClockEstimator::thin() {
  std::vector<Point> line, corridor;
  for (std::size_t i = 0; i + 1 < line_.size(); i += 2) {
    line.push_back(line_[i]);
    corridor.push_back(corridor_[i].half_ns <= corridor_[i + 1].half_ns ? corridor_[i] : corridor_[i + 1]);
  }
  if (line_.size() % 2 != 0) {
    line.push_back(line_.back());
    corridor.push_back(corridor_.back());
  }
  line_ = std::move(line);
  corridor_ = std::move(corridor);
}

}  // namespace midstick::clock
