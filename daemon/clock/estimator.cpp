#include "daemon/clock/estimator.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::clock {
namespace {

constexpr double kNominal = ClockMap::kNominalNsPerTick;
constexpr std::size_t kMostKept = 4096;          // at 7 ms apart, a whole window
constexpr double kHangTogetherS = 0.5;           // a busy computer or hub is slower one way for so long
constexpr int kLeastForDrift = 24;               // such stretches; with fewer, standard errors of a parabola are themselves a guess
constexpr std::size_t kFitsPerWindow = 32;       // samples are fitted when there are n / this many new ones
constexpr double kAhead = 2.0 / kFitsPerWindow;  // of half a window: a fit must hold until the next

double ppm(double rate_difference) { return rate_difference / kNominal * 1e6; }
double rate_difference(double ppm) { return ppm / 1e6 * kNominal; }

RateBounds interval(const ClockMap& map) {
  const double half = map.ns_per_tick * map.uncertainty_ppm / 1e6;
  return {map.ns_per_tick - half, map.ns_per_tick + half};
}

RateBounds both(const std::optional<RateBounds>& a, const RateBounds& b) {
  return a ? RateBounds{std::min(a->low, b.low), std::max(a->high, b.high)} : b;
}

}  // namespace

ClockEstimator::ClockEstimator(std::uint32_t boot_id, EstimatorSettings settings)
    : settings_(settings),
      boot_id_(boot_id),
      widest_{kNominal - rate_difference(settings.widest_ppm), kNominal + rate_difference(settings.widest_ppm)},
      bounds_(widest_) {}

void ClockEstimator::add(const ClockSample& sample) {
  const auto& heard = window_.samples;
  if (!heard.empty() && sample.board_received == heard.back().board_received && sample.board_sent == heard.back().board_sent) return;
  ++taken_;
  last_ = sample.answered;
  if (heard.empty()) {
    restart(sample);
  } else if (!take(sample)) {
    ++suspicions_;
    suspect_ = true;
    restart(sample);
  }
  if (good()) suspect_ = false;
}

/// False when the sample contradicts what was heard before.
bool ClockEstimator::take(const ClockSample& sample) {
  const ClockSample& before = window_.samples.back();
  const bool backwards = sample.board_received < before.board_received || sample.board_sent < before.board_sent;
  if (backwards || sample.answered < sample.asked) return false;
  ++samples_;
  ++since_fit_;
  window_.samples.push_back(sample);
  lay_out(sample);
  const bool due = static_cast<std::size_t>(since_fit_) * kFitsPerWindow >= window_.samples.size();
  if (due) set_around_middle();
  if (window_.corridor.slack(window_.corridor.roomiest(widest_)) < -settings_.tolerance_ns) return false;
  if (!due) return true;
  if (drifts_too_fast()) return false;
  refit();
  return true;
}

/// Nothing but this sample is known.
void ClockEstimator::restart(const ClockSample& sample) {
  window_.samples = {sample};
  samples_ = 1;
  tiled_.reset();
  tiled_bounds_.reset();
  tiled_to_ = sample.answered;
  set_around_middle();
  refit();
}

void ClockEstimator::forget_old() {
  auto& heard = window_.samples;
  const auto least = static_cast<std::size_t>(settings_.least_samples);
  while (heard.size() > kMostKept || (heard.size() > least && heard.back().answered - heard.front().answered > settings_.window)) {
    if (heard.front().answered >= tiled_to_) tile();
    heard.pop_front();
  }
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

void ClockEstimator::set_around_middle() {
  forget_old();
  const ClockSample& first = window_.samples.front();
  const ClockSample& newest = window_.samples.back();
  const BoardSpan ticks = newest.board_sent - first.board_received;
  const HostSpan ns = newest.answered - first.asked;
  window_.board_middle = first.board_received + BoardSpan{ticks.count / 2};
  window_.host_middle = first.asked + HostSpan{ns.count / 2};
  window_.half_span_ticks = static_cast<double>(ticks.count) / 2;
  window_.half_span_s = static_cast<double>(ns.count) / 2e9;
  window_.corridor = {};
  window_.points.clear();
  for (const ClockSample& sample : window_.samples) lay_out(sample);
}

void ClockEstimator::lay_out(const ClockSample& sample) {
  const auto received = static_cast<double>((sample.board_received - window_.board_middle).count);
  const auto sent = static_cast<double>((sample.board_sent - window_.board_middle).count);
  const auto asked = static_cast<double>((sample.asked - window_.host_middle).count);
  const auto answered = static_cast<double>((sample.answered - window_.host_middle).count);
  const double drift = settings_.drift_ppm_per_s * 1e-6 / 2 / 1e9;  // ns for each ns^2
  window_.corridor.floor(received, asked - drift * asked * asked);
  window_.corridor.ceiling(sent, answered + drift * answered * answered);
  const double half_trip = std::max(0.0, (answered - asked - (sent - received) * kNominal) / 2);
  window_.points.push_back({(received + sent) / 2, (asked + answered) / 2, half_trip + settings_.floor_ns});
}

bool ClockEstimator::drifts_too_fast() const {
  const int stretches = static_cast<int>(2 * window_.half_span_s / kHangTogetherS);
  if (stretches < kLeastForDrift) return false;
  const FittedRate bend = fitted_bend(window_.points, window_.half_span_ticks, stretches);
  return ppm(std::abs(bend.rate) - settings_.drift_proof * bend.error) > settings_.drift_ppm_per_s * 2 * window_.half_span_s;
}

/// Three half widths, each of which holds the rate of the whole window by itself: certain bounds; a straight line and what drift may add; a
/// parabola and nothing more. The narrowest counts, but two methods that differ cannot both be right to better than half their difference.
void ClockEstimator::refit() {
  since_fit_ = 0;
  fitted_to_ = last_;
  const double roomiest = window_.corridor.roomiest(widest_);
  const double drift = rate_difference(settings_.drift_ppm_per_s * window_.half_span_s);  // from the middle to an end
  const RateBounds lines = window_.corridor.possible(widest_, roomiest, -settings_.tolerance_ns);
  bounds_ = {std::max(widest_.low, lines.low - drift * (1 + kAhead)), std::min(widest_.high, lines.high + drift * (1 + kAhead))};

  const FittedLine line = fitted_line(window_.points, window_.half_span_ticks);
  const bool fitted = samples_ >= settings_.least_samples && std::isfinite(line.rate.error);
  cross_check_ppm_ = fitted ? std::optional(ppm(line.rate.rate - roomiest)) : std::nullopt;
  if (!fitted) return publish(kNominal, ClockMap::kUnmeasuredPpm);

  const double rate = std::clamp(line.rate.rate, lines.low, lines.high);
  const double hard = std::max(bounds_.high - rate, rate - bounds_.low);
  const double off_centre = std::abs(line.centre) / window_.half_span_ticks;
  const double straight = std::abs(line.rate.rate - rate) + settings_.coverage * line.rate.error + drift * (1 + off_centre + kAhead);
  const FittedCurve curve = fitted_curve(window_.points, window_.half_span_ticks, kAhead);
  const auto reach = [&](const FittedRate& end) { return std::abs(end.rate - rate) + settings_.coverage * end.error; };
  const double bent = std::max(reach(curve.first), reach(curve.last));
  const double narrowest = std::max(std::min({hard, straight, bent}), std::abs(rate - roomiest) / 2);
  publish(rate, std::min(ppm(narrowest), ClockMap::kUnmeasuredPpm));
}

void ClockEstimator::publish(double rate, double uncertainty_ppm) {
  const double newest = std::round(window_.points.back().tick);
  map_.boot_id = boot_id_;
  map_.samples = samples_;
  map_.board_origin = window_.board_middle + BoardSpan{std::llround(newest)};
  map_.host_origin = window_.host_middle + HostSpan{std::llround(window_.corridor.middle(rate) + rate * newest)};
  map_.ns_per_tick = rate;
  map_.uncertainty_ppm = uncertainty_ppm;
}

/// Windows laid end to end speak for every instant so far: the next one counts when it is about to lose the instant where the last one
/// ended.
void ClockEstimator::tile() {
  tiled_ = both(tiled_, interval(map_));
  tiled_bounds_ = both(tiled_bounds_, bounds_);
  tiled_to_ = fitted_to_;
}

ClockMap ClockEstimator::whole_map() const {
  if (!tiled_) return map_;
  const auto [low, high] = both(tiled_, interval(map_));
  ClockMap whole = map_;
  whole.ns_per_tick = (low + high) / 2;
  whole.uncertainty_ppm = (high - low) / (high + low) * 1e6;
  return whole;
}

RateBounds ClockEstimator::whole_bounds() const { return both(tiled_bounds_, bounds_); }

ClockFacts ClockEstimator::facts(HostTime now, const HostClock& host) const {
  const auto board_ppm = [](double ns_per_tick) { return (kNominal / ns_per_tick - 1) * 1e6; };
  const auto [low, high] = whole_bounds();
  return {state(now), board_ppm(high), board_ppm(low), cross_check_ppm_, suspicions_, host};
}

const char* name(ClockState state) {
  constexpr const char* kNames[] = {"acquiring", "locked", "suspect", "lost"};
  return kNames[static_cast<int>(state)];
}

}  // namespace midstick::clock
