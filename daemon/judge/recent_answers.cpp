#include "daemon/judge/recent_answers.hpp"

#include <algorithm>
#include <optional>

namespace midstick::judge {

RecentAnswers::RecentAnswers(const script::Plan& plan, const Traffic& t, double window_ms) : window_(t.ticks_ms(window_ms)) {
  const auto throttle = t.throttle().all(), steering = t.steering().all();
  std::optional<double> now[2];
  for (std::size_t i = 0, j = 0; i < throttle.size() || j < steering.size();) {
    const bool first = j == steering.size() || (i < throttle.size() && throttle[i].fall <= steering[j].fall);
    const Pulse& p = first ? throttle[i++] : steering[j++];
    now[first ? 0 : 1] = t.us(p);
    if (now[0] && now[1]) answers_.push_back({p.fall, mixer::expected(plan.spec, *now[0], *now[1])});
  }
}

std::optional<mixer::Interval> RecentAnswers::around(const Pulse& pulse, Side side) const {
  const auto until = std::partition_point(answers_.begin(), answers_.end(), [&](const Answer& a) { return a.from <= pulse.fall; });
  auto from = std::partition_point(answers_.begin(), until, [&](const Answer& a) { return a.from < pulse.rise - window_; });
  if (from != answers_.begin()) --from;
  if (from == until) return {};
  mixer::Interval hull{1e9, -1e9};
  for (auto a = from; a != until; ++a) {
    const double us = side == Side::left ? a->outputs.left_us : a->outputs.right_us;
    hull = {std::min(hull.low, us), std::max(hull.high, us)};
  }
  return hull;
}

}  // namespace midstick::judge
