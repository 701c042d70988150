#include "daemon/engine/receiver_signal.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::engine {
namespace {

constexpr double kLongestPulseUs = 5000;

double quantile(std::vector<double>& sorted, double share) {
  return sorted[static_cast<std::size_t>(share * static_cast<double>(sorted.size() - 1) + 0.5)];
}

}  // namespace

Signal::Signal(const capture::Capture& recording, std::size_t channels) : pulses_(channels), levels_(channels) {
  const auto us = [&](BoardTime t) { return recording.clock.us(t - recording.begin); };
  for (const auto& edge : recording.response) {
    if (edge.line >= channels) continue;
    auto& levels = levels_[edge.line];
    const double at = us(edge.at);
    if (!edge.level && !levels.empty() && levels.back().level && at - levels.back().us < kLongestPulseUs)
      pulses_[edge.line].push_back({levels.back().us, at - levels.back().us});
    levels.push_back({at, edge.level});
  }
  if (recording.segments.empty()) return;
  const auto& marks = recording.segments[0].marks;
  for (std::size_t i = 0; i < marks.size(); ++i)
    steps_.push_back({marks[i].label, {us(marks[i].at), us(i + 1 < marks.size() ? marks[i + 1].at : recording.segments[0].end)}});
}

bool Signal::has(const std::string& mark) const {
  return std::ranges::any_of(steps_, [&](const auto& s) { return s.first == mark; });
}

Stretch Signal::step(const std::string& mark, double after_us) const {
  const auto it = std::ranges::find_if(steps_, [&](const auto& s) { return s.first == mark; });
  return it == steps_.end() ? Stretch{} : Stretch{std::min(it->second.begin_us + after_us, it->second.end_us), it->second.end_us};
}

Stretch Signal::tail(const std::string& mark, double length_us) const {
  const Stretch whole = step(mark, 0);
  return {std::max(whole.begin_us, whole.end_us - length_us), whole.end_us};
}

std::vector<SignalPulse> Signal::pulses(std::size_t channel, Stretch stretch) const {
  const auto& all = pulses_[channel];
  const auto from = std::ranges::lower_bound(all, stretch.begin_us, {}, &SignalPulse::rise_us);
  const auto to = std::ranges::lower_bound(all, stretch.end_us, {}, &SignalPulse::rise_us);
  return from < to ? std::vector<SignalPulse>(from, to) : std::vector<SignalPulse>{};
}

std::optional<SignalPulse> Signal::first_in(std::size_t channel, Stretch stretch) const {
  const auto& all = pulses_[channel];
  const auto it = std::ranges::lower_bound(all, stretch.begin_us, {}, &SignalPulse::rise_us);
  if (it == all.end() || it->rise_us >= stretch.end_us) return std::nullopt;
  return *it;
}

bool Signal::high_at(std::size_t channel, double us) const {
  const auto& levels = levels_[channel];
  const auto after = std::ranges::upper_bound(levels, us, {}, &Level::us);
  return after != levels.begin() && std::prev(after)->level;
}

std::vector<double> Signal::rises_after(std::size_t of, std::size_t channel, Stretch stretch, double period_us) const {
  return distances(of, channel, stretch, period_us, false);
}

std::vector<double> Signal::rises_after_fall(std::size_t of, std::size_t channel, Stretch stretch, double period_us) const {
  return distances(of, channel, stretch, period_us, true);
}

std::vector<double> Signal::distances(std::size_t of, std::size_t channel, Stretch stretch, double period_us, bool from_fall) const {
  std::vector<double> out;
  for (const SignalPulse& p : pulses(of, stretch)) {
    const double from = from_fall ? p.rise_us + p.width_us : p.rise_us;
    const auto near = pulses(channel, {from - period_us / 2, from + period_us / 2});
    const auto best = std::ranges::min_element(near, {}, [&](const SignalPulse& q) { return std::abs(q.rise_us - from); });
    if (best != near.end()) out.push_back(best->rise_us - from);
  }
  return out;
}

std::vector<double> widths_of(const std::vector<SignalPulse>& pulses) {
  std::vector<double> out;
  for (const SignalPulse& p : pulses) out.push_back(p.width_us);
  return out;
}

double middle(std::vector<double> values) {
  if (values.empty()) return 0;
  std::ranges::sort(values);
  return quantile(values, 0.5);
}

double spread(std::vector<double> values) {
  if (values.empty()) return 0;
  std::ranges::sort(values);
  return (quantile(values, 0.975) - quantile(values, 0.025)) / 2;
}

}  // namespace midstick::engine
