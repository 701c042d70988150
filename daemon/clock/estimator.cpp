#include "daemon/clock/estimator.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace midstick::clock {

void ClockEstimator::add(const ClockSample& sample) {
  ++taken_;
  last_ = sample.answered;
  if (line_.empty())
    restart(sample);
  else
    take(sample);
  double roomiest = roomiest_rate();
  if (slack(roomiest) < -settings_.tolerance_ns) {
    ++suspicions_;
    suspect_ = true;
    restart(sample);
    roomiest = roomiest_rate();
  }
  refit(roomiest);
  if (good()) suspect_ = false;
}

/// A point stands for `per_point_` samples in a row, so the whole past keeps the same resolution however long it grows. On the line they
/// are merged, never chosen between: a short round trip goes with one kind of asymmetry, so choosing would tilt the line as the choice
/// grows. Bounds cannot be tilted: the tightest stays.
void ClockEstimator::take(const ClockSample& sample) {
  const Point p = point(sample);
  if (in_newest_ == per_point_ || line_.empty()) {
    if (line_.size() == kKept) thin();
    line_.push_back(p);
    corridor_.push_back(p);
    in_newest_ = 1;
  } else {
    line_.back() = merged(line_.back(), p);
    if (p.half_ns < corridor_.back().half_ns) corridor_.back() = p;
    ++in_newest_;
  }
  ++in_fit_;
}

void ClockEstimator::restart(const ClockSample& sample) {
  line_.clear();
  corridor_.clear();
  per_point_ = 1;
  in_fit_ = 0;
  origin_ = sample;
  bounds_ = {ClockMap::kNominalNsPerTick * (1 - settings_.widest_ppm / 1e6),
             ClockMap::kNominalNsPerTick * (1 + settings_.widest_ppm / 1e6)};
  take(sample);
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
  p.weight = 1 / std::pow(p.half_ns + settings_.floor_ns, 2);
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

/// Rate of the line with the largest slack, by golden section over the rates that were possible so far: new bounds only take away.
double ClockEstimator::roomiest_rate() const {
  constexpr double kGolden = 0.6180339887498949;
  double low = bounds_.low, high = bounds_.high;
  double a = high - kGolden * (high - low), b = low + kGolden * (high - low);
  double at_a = slack(a), at_b = slack(b);
  for (int i = 0; i < 30; ++i) {
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
    for (int i = 0; i < 20; ++i) {
      const double middle = (in + outside) / 2;
      (slack(middle) >= -settings_.tolerance_ns ? in : outside) = middle;
    }
    return outside;
  };
  return {edge(bounds_.low), edge(bounds_.high)};
}

/// Weighted least squares through the middles. Half a round trip bounds a middle's error, so its square weighs. How far off the rate may be
/// comes from the residuals themselves (sandwich estimate with leverage correction, HC3), for the weights are only a guess at the errors.
ClockEstimator::Line ClockEstimator::fit() const {
  constexpr double kUnknown = std::numeric_limits<double>::infinity();
  double weights = 0, tick = 0, ns = 0;
  for (const Point& p : line_) {
    weights += p.weight;
    tick += p.weight * p.middle_tick;
    ns += p.weight * p.middle_ns;
  }
  tick /= weights;
  ns /= weights;
  double xx = 0, xy = 0, square = 0;
  for (const Point& p : line_) {
    xx += p.weight * (p.middle_tick - tick) * (p.middle_tick - tick);
    xy += p.weight * (p.middle_tick - tick) * (p.middle_ns - ns);
  }
  if (line_.size() < 3 || xx <= 0) return {ClockMap::kNominalNsPerTick, ns - ClockMap::kNominalNsPerTick * tick, kUnknown};
  const double rate = xy / xx;
  for (const Point& p : line_) {
    const double x = p.middle_tick - tick;
    const double leverage = p.weight / weights + p.weight * x * x / xx;
    if (leverage > 0.999) return {rate, ns - rate * tick, kUnknown};
    // A few samples can agree by chance: never believe less than three tenths of what the round trips allow.
    const double residual = std::max(std::abs(p.middle_ns - ns - rate * x), 0.3 / std::sqrt(p.weight));
    square += std::pow(p.weight * x * residual / (1 - leverage), 2);
  }
  return {rate, ns - rate * tick, std::sqrt(square) / xx};
}

void ClockEstimator::refit(double roomiest) {
  const Line line = fit();
  bounds_ = possible_rates(roomiest);
  const double rate = std::clamp(line.rate, bounds_.low, bounds_.high);
  map_.boot_id = boot_id_;
  map_.samples = in_fit_;
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

void ClockEstimator::thin() {
  for (std::size_t i = 0; i < kKept / 2; ++i) {
    line_[i] = merged(line_[2 * i], line_[2 * i + 1]);
    corridor_[i] = corridor_[2 * i].half_ns <= corridor_[2 * i + 1].half_ns ? corridor_[2 * i] : corridor_[2 * i + 1];
  }
  line_.resize(kKept / 2);
  corridor_.resize(kKept / 2);
  per_point_ *= 2;
}

ClockEstimator::Point ClockEstimator::merged(const Point& a, const Point& b) {
  Point both = a;
  both.weight = a.weight + b.weight;
  both.middle_tick = (a.weight * a.middle_tick + b.weight * b.middle_tick) / both.weight;
  both.middle_ns = (a.weight * a.middle_ns + b.weight * b.middle_ns) / both.weight;
  return both;
}

}  // namespace midstick::clock
