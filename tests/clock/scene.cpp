#include "tests/clock/scene.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <fstream>
#include <limits>
#include <map>
#include <nlohmann/json.hpp>
#include <numbers>
#include <stdexcept>

namespace midstick::clock::test {
namespace {

using nlohmann::json;

World world_from(const json& j) {
  World w;
  const std::map<std::string, double*> numbers = {{"spread_ppm", &w.spread_ppm},
                                                  {"fixed_us", &w.fixed_us},
                                                  {"jitter_us", &w.jitter_us},
                                                  {"slot_us", &w.slot_us},
                                                  {"latency_timer_us", &w.latency_timer_us},
                                                  {"late_chance", &w.late_chance},
                                                  {"late_us", &w.late_us},
                                                  {"drop", &w.drop},
                                                  {"twice", &w.twice},
                                                  {"pause_at_s", &w.pause_at_s},
                                                  {"pause_s", &w.pause_s},
                                                  {"restart_at_s", &w.restart_at_s},
                                                  {"step_at_s", &w.step_at_s},
                                                  {"step_ppm", &w.step_ppm},
                                                  {"warm_up_ppm", &w.warm_up_ppm},
                                                  {"warm_up_s", &w.warm_up_s},
                                                  {"wander_ppm", &w.wander_ppm},
                                                  {"wander_period_s", &w.wander_period_s}};
  for (const auto& [name, value] : j.items()) {
    const auto number = numbers.find(name);
    if (number == numbers.end()) throw std::runtime_error("world has no \"" + name + "\"");
    *number->second = value.get<double>();
  }
  return w;
}

std::optional<double> maybe(const json& j, const char* name) {
  return j.contains(name) ? std::optional(j.at(name).get<double>()) : std::nullopt;
}

/// Delays of the way there and back.
class Way {
 public:
  Way(const World& world, unsigned seed) : world_(world), random_(seed) {
    phase_out_ = uniform() * world.slot_us * 1e3;
    phase_in_ = uniform() * world.slot_us * 1e3;
    phase_timer_ = uniform() * world.latency_timer_us * 1e3;
  }
  double there(double ns) { return board_was_ = std::max(board_was_, next(ns, world_.slot_us, phase_out_) + delay()); }
  double back(double ns) {
    const double sent = next(next(ns, world_.latency_timer_us, phase_timer_), world_.slot_us, phase_in_);
    return host_was_ =
               std::max(host_was_, after_pause(sent + delay() + (chance(world_.late_chance) ? uniform() * world_.late_us * 1e3 : 0)));
  }
  double after_pause(double ns) const {
    const double begin = world_.pause_at_s * 1e9, end = begin + world_.pause_s * 1e9;
    return ns >= begin && ns < end ? end : ns;
  }
  bool chance(double probability) { return probability > 0 && uniform() < probability; }

 private:
  double uniform() { return std::uniform_real_distribution<>(0, 1)(random_); }
  double delay() { return world_.fixed_us * 1e3 + std::exponential_distribution<>(1)(random_) * world_.jitter_us * 1e3; }
  static double next(double ns, double period_us, double phase) {
    const double period = period_us * 1e3;
    return period == 0 ? ns : (std::floor((ns - phase) / period) + 1) * period + phase;
  }

  const World& world_;
  std::mt19937_64 random_;
  double phase_out_, phase_in_, phase_timer_, board_was_{0}, host_was_{0};
};

}  // namespace

Scene load_scene(const std::string& path) {
  std::ifstream file(path);
  const json j = json::parse(file);
  Scene scene{j.at("about").get<std::string>(), world_from(j.at("world")), {}, maybe(j, "flagged_within_s")};
  for (const json& look : j.at("looks"))
    scene.looks.push_back({look.at("at_s").get<double>(), maybe(look, "within_ppm"), maybe(look, "rms_ppm"), maybe(look, "known_to_ppm")});
  return scene;
}

Board::Board(const World& world, unsigned seed, int seeds) : world_(world) {
  std::mt19937_64 random(seed + 1'000'000);
  std::uniform_real_distribution<> uniform(0, 1);
  base_ppm_ = world.spread_ppm * (2.0 * seed / seeds - 1);
  boot_ns_ = -uniform(random) * 1e11;
  wander_phase_ = uniform(random) * 2 * std::numbers::pi;
}

double Board::ppm(double s) const {
  const double warm = std::clamp(s / world_.warm_up_s, 0.0, 1.0) * world_.warm_up_ppm;
  const double wander = world_.wander_ppm * std::sin(2 * std::numbers::pi * s / world_.wander_period_s + wander_phase_);
  return base_ppm_ + warm + wander + (world_.step_at_s >= 0 && s >= world_.step_at_s ? world_.step_ppm : 0);
}

/// The rate's integral, in closed form.
BoardTime Board::ticks(double ns) const {
  const double s = ns / 1e9, warm_s = std::clamp(s, 0.0, world_.warm_up_s);
  double gained = base_ppm_ * s + world_.warm_up_ppm * (warm_s * warm_s / 2 / world_.warm_up_s + s - warm_s);  // us
  const double turn = 2 * std::numbers::pi / world_.wander_period_s;
  gained += world_.wander_ppm / turn * (std::cos(wander_phase_) - std::cos(turn * s + wander_phase_));
  if (world_.step_at_s >= 0) gained += world_.step_ppm * std::max(0.0, s - world_.step_at_s);
  const bool again = world_.restart_at_s >= 0 && s >= world_.restart_at_s;
  const double since = again ? ns - (world_.restart_at_s + 1.5) * 1e9 : ns - boot_ns_;
  return {static_cast<std::int64_t>(std::floor((since + gained * 1e3) / 62.5))};
}

void play(const Scene& scene, const Board& board, unsigned seed, ClockEstimator& estimator, const std::function<void(std::size_t)>& look,
          const std::function<void(double at_s)>& heard) {
  const World& world = scene.world;
  Way way(world, seed);
  std::deque<ClockSample> coming;
  double ask = 0;
  for (std::size_t next_look = 0; next_look < scene.looks.size();) {
    const double answer = coming.empty() ? std::numeric_limits<double>::infinity() : static_cast<double>(coming.front().answered.count);
    if (std::min(ask, answer) > scene.looks[next_look].at_s * 1e9) {
      look(next_look++);
    } else if (answer <= ask) {
      estimator.add(coming.front());
      coming.pop_front();
      heard(answer / 1e9);
    } else if (const double free = way.after_pause(ask); free > ask) {
      ask = free;
    } else {
      const double received = way.there(ask), sent = received + 30'000;
      const bool booting = world.restart_at_s >= 0 && received > world.restart_at_s * 1e9 && received < (world.restart_at_s + 1.5) * 1e9;
      if (!booting && !way.chance(world.drop)) {
        coming.push_back({{std::llround(ask)}, board.ticks(received), board.ticks(sent), {std::llround(way.back(sent))}});
        if (way.chance(world.twice)) coming.push_back(coming.back()), coming.back().answered = {std::llround(way.back(sent))};
      }
      ask += static_cast<double>(estimator.next_query_after(host_ms(estimator.needs_more() ? 10 : 100)).count);
    }
  }
}

}  // namespace midstick::clock::test
