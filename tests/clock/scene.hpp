// A scene: one default world between host and estimator, of which a data file overrides a few named numbers, and what must hold in it.
//
// The world asks as the engine does: often until the clock is known, seldom afterwards, without waiting for the last answer. Delays come
// from a seed; the board's rate is a known function of time. Time is true ns from 0.
#pragma once

#include <functional>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "daemon/clock/estimator.hpp"

namespace midstick::clock::test {

struct World {
  double spread_ppm{5000};     ///< boards are spread evenly over +- this
  double fixed_us{100};        ///< each way
  double jitter_us{20};        ///< mean of an exponential, each way
  double slot_us{0};           ///< bytes wait for the next slot, each way (USB: 1000)
  double latency_timer_us{0};  ///< answers wait for the next tick of the adapter's timer (16000 common)
  double late_chance{0};       ///< the host was not scheduled
  double late_us{20'000};      ///< at most so long
  double drop{0}, twice{0};    ///< of exchanges
  double pause_at_s{-1}, pause_s{0};
  double restart_at_s{-1};  ///< board counts from 0 again, 1.5 s later
  double step_at_s{-1}, step_ppm{0};
  double warm_up_ppm{0}, warm_up_s{120};  ///< evenly over that time
  double wander_ppm{0}, wander_period_s{60};
};

/// Required at one instant.
struct Look {
  double at_s;
  std::optional<double> within_ppm;    ///< of every board
  std::optional<double> rms_ppm;       ///< over the boards
  std::optional<double> known_to_ppm;  ///< published half width, of every board
};

struct Scene {
  std::string about;
  World world;
  std::vector<Look> looks;                 ///< in order of time
  std::optional<double> flagged_within_s;  ///< of the restart or step; without one no contradiction may be seen at all
  /// When the board's clock became another one; 0 when it never did.
  double begins_s() const { return std::max({0.0, world.restart_at_s, world.step_at_s}); }
};

/// Throws std::runtime_error on a name it does not know.
Scene load_scene(const std::string& path);

class Board {
 public:
  Board(const World& world, unsigned seed, int seeds);
  double ppm(double at_s) const;
  BoardTime ticks(double at_ns) const;  ///< whole ticks as a counter reads

 private:
  const World& world_;
  double base_ppm_, boot_ns_, wander_phase_;
};

/// Plays the scene with one seed; `look` is called with the index of each look when it is due, `heard` after every sample.
void play(const Scene& scene, const Board& board, unsigned seed, ClockEstimator& estimator, const std::function<void(std::size_t)>& look,
          const std::function<void(double at_s)>& heard);

}  // namespace midstick::clock::test
