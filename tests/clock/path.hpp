// A simulated path between host and board for tests of the estimator: delays from a seed, a board clock with a known rate.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>

#include "daemon/clock/estimator.hpp"

namespace midstick::clock::test {

struct PathOptions {
  double ppm{0};            // board fast
  std::int64_t slot_ns{0};  // bytes wait for the next slot, each way (USB: 1 ms)
  double fixed_us{100};     // each way
  double jitter_us{20};     // mean of an exponential, each way
  double spike_chance{0};   // host not scheduled
  double spike_us{20'000};
  double wander_ppm_per_s{0};
};

class Path {
 public:
  Path(unsigned seed, PathOptions options) : options_(options), random_(seed) {
    phase_out_ = uniform() * static_cast<double>(options.slot_ns);
    phase_in_ = uniform() * static_cast<double>(options.slot_ns);
    boot_ns_ = -uniform() * 1e11;
  }

  /// Board ticks at true time `ns`, whole ticks as a counter would read.
  std::int64_t ticks(double ns) const {
    const double since = ns - boot_ns_;
    return static_cast<std::int64_t>(since / 62.5 * (1 + options_.ppm / 1e6 + options_.wander_ppm_per_s / 1e6 * ns / 2e9));
  }
  /// One exchange begun at `now_ns`; moves time to its end.
  ClockSample exchange(double& now_ns) {
    ClockSample sample;
    sample.asked = {std::llround(now_ns)};
    const double at_board = slot(now_ns, phase_out_) + delay();
    sample.board_received = {ticks(at_board)};
    const double leaves = at_board + 30'000;
    sample.board_sent = {ticks(leaves)};
    now_ns = slot(leaves, phase_in_) + delay() + (uniform() < options_.spike_chance ? uniform() * options_.spike_us * 1e3 : 0);
    sample.answered = {std::llround(now_ns)};
    return sample;
  }

 private:
  double uniform() { return std::uniform_real_distribution<>(0, 1)(random_); }
  double delay() { return options_.fixed_us * 1e3 + std::exponential_distribution<>(1)(random_) * options_.jitter_us * 1e3; }
  double slot(double ns, double phase) const {
    if (options_.slot_ns == 0) return ns;
    const auto width = static_cast<double>(options_.slot_ns);
    return (std::floor((ns - phase) / width) + 1) * width + phase;
  }

  PathOptions options_;
  std::mt19937_64 random_;
  double phase_out_{0}, phase_in_{0}, boot_ns_{0};
};

/// Ask every 5 to 10 ms for `seconds` of host time, or until the estimator needs no more; returns the time taken, ns.
inline double acquire(ClockEstimator& estimator, Path& path, double seconds, double from_ns = 0, bool stop_when_good = true) {
  double now = from_ns;
  while (now - from_ns < seconds * 1e9 && !(stop_when_good && !estimator.needs_more())) {
    estimator.add(path.exchange(now));
    now += static_cast<double>(estimator.next_query_after(host_ms(5)).count);
  }
  return now - from_ns;
}

}  // namespace midstick::clock::test
