#include "daemon/judge/sent.hpp"

#include <algorithm>

namespace midstick::judge {

std::vector<Sent> sent(const script::Plan& plan, const Traffic& traffic, double input_us) {
  struct Fall {
    BoardTime at;
    bool throttle;
    double us;
  };
  std::vector<Fall> falls;
  for (const Pulse& p : traffic.throttle().all()) falls.push_back({p.fall, true, traffic.us(p)});
  for (const Pulse& p : traffic.steering().all()) falls.push_back({p.fall, false, traffic.us(p)});
  std::sort(falls.begin(), falls.end(), [](const Fall& a, const Fall& b) { return a.at < b.at; });
  std::vector<Sent> all;
  std::optional<double> throttle, steering;
  for (const Fall& f : falls) {
    (f.throttle ? throttle : steering) = f.us;
    if (!throttle || !steering) continue;
    const bool same = !all.empty() && all.back().throttle_us == *throttle && all.back().steering_us == *steering;
    const auto range = same ? mixer::OutputIntervals{all.back().asked[0], all.back().asked[1]}
                            : mixer::expected_within(plan.spec, *throttle, *steering, input_us);
    all.push_back({f.at, *throttle, *steering, {range.left, range.right}});
  }
  return all;
}

std::optional<mixer::Interval> asked_between(const std::vector<Sent>& samples, Side side, BoardTime from, BoardTime to) {
  auto it = std::partition_point(samples.begin(), samples.end(), [&](const Sent& s) { return s.fall <= from; });
  if (it != samples.begin()) --it;  // still valid at `from`
  std::optional<mixer::Interval> hull;
  for (; it != samples.end() && it->fall <= to; ++it) {
    const mixer::Interval& asked = it->asked[static_cast<int>(side)];
    if (!hull)
      hull = asked;
    else
      hull->low = std::min(hull->low, asked.low), hull->high = std::max(hull->high, asked.high);
  }
  return hull;
}

}  // namespace midstick::judge
