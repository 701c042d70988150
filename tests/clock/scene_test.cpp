// Every scene in scenarios/, over many boards: a rate in time, an interval that holds the truth, and no change of clock averaged in.
#include "tests/clock/scene.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <limits>

namespace midstick::clock::test {
namespace {

constexpr int kSeeds = 200, kSoakSeeds = 1000;

/// What `seeds` boards came to at one look.
struct Seen {
  int held = 0, held_whole = 0, bounded = 0;
  double worst_ppm = 0, squares = 0, roomiest_squares = 0, widest_ppm = 0, widest_whole_ppm = 0;
};
struct Result {
  std::vector<Seen> looks;
  int contradicted = 0, flagged = 0;
  double slowest_flag_s = 0;
};

struct Range {
  double low, high;
};
Range true_ppm(const Board& board, double from_s, double to_s) {
  Range range{1e9, -1e9};
  for (int i = 0; i <= 60; ++i) {
    const double ppm = board.ppm(from_s + (to_s - from_s) * i / 60);
    range = {std::min(range.low, ppm), std::max(range.high, ppm)};
  }
  return range;
}
double ppm_of(double ns_per_tick) { return (ClockMap::kNominalNsPerTick / ns_per_tick - 1) * 1e6; }

/// `share` of the published half width must be enough: 1 in the tests, less to see them fail.
bool holds(const ClockMap& map, Range truth, double share) {
  const double half = map.uncertainty_ppm * share;
  return map.ppm() - half <= truth.low && map.ppm() + half >= truth.high;
}

void observe(const Scene& scene, const Board& board, double at_s, const ClockEstimator& estimator, double share, Seen& seen) {
  const double begin = scene.begins_s() <= at_s ? scene.begins_s() : 0;
  const Range window = true_ppm(board, std::max(begin, at_s - 30), at_s);
  seen.held += holds(estimator.map(), window, share);
  seen.held_whole += holds(estimator.whole_map(), true_ppm(board, begin, at_s), share);
  seen.bounded += ppm_of(estimator.bounds().high) <= window.low && ppm_of(estimator.bounds().low) >= window.high;
  const double error = std::abs(estimator.map().ppm() - (window.low + window.high) / 2);
  seen.worst_ppm = std::max(seen.worst_ppm, error);
  seen.squares += error * error;
  seen.roomiest_squares += std::pow(estimator.map().ppm() + estimator.cross_check_ppm().value_or(0) - (window.low + window.high) / 2, 2);
  seen.widest_ppm = std::max(seen.widest_ppm, estimator.map().uncertainty_ppm);
  seen.widest_whole_ppm = std::max(seen.widest_whole_ppm, estimator.whole_map().uncertainty_ppm);
}

Result tally(const Scene& scene, int seeds, double share = 1, EstimatorSettings settings = {}) {
  Result result;
  result.looks.resize(scene.looks.size());
  for (unsigned seed = 1; seed <= static_cast<unsigned>(seeds); ++seed) {
    const Board board(scene.world, seed, seeds);
    ClockEstimator estimator(1, settings);
    std::optional<double> flagged_at_s;
    play(
        scene, board, seed, estimator,
        [&](std::size_t i) { observe(scene, board, scene.looks[i].at_s, estimator, share, result.looks[i]); },
        [&](double at_s) {
          if (estimator.suspicions() > 0 && !flagged_at_s) flagged_at_s = at_s;
        });
    result.contradicted += flagged_at_s && (!scene.flagged_within_s || *flagged_at_s < scene.begins_s());
    result.flagged += flagged_at_s.has_value();
    if (flagged_at_s) result.slowest_flag_s = std::max(result.slowest_flag_s, *flagged_at_s - scene.begins_s());
  }
  return result;
}

Scene scene_named(const std::string& name) { return load_scene(std::string(SCENARIOS) + "/" + name + ".json"); }

struct Play {
  std::string scene;
  int seeds;
};
std::vector<Play> plays(int seeds) {
  std::vector<Play> plays;
  for (const auto& entry : std::filesystem::directory_iterator(SCENARIOS)) plays.push_back({entry.path().stem().string(), seeds});
  std::ranges::sort(plays, {}, &Play::scene);
  return plays;
}
std::string play_name(const testing::TestParamInfo<Play>& info) {
  std::string name = info.param.scene;
  std::ranges::replace(name, '-', '_');
  return name;
}

class Scenes : public testing::TestWithParam<Play> {};

TEST_P(Scenes, HoldTheTruth) {
  const auto& [name, seeds] = GetParam();
  const Scene scene = scene_named(name);
  SCOPED_TRACE(scene.about + ", seeds 1 to " + std::to_string(seeds));
  const Result result = tally(scene, seeds);
  for (std::size_t i = 0; i < scene.looks.size(); ++i) {
    const Look& look = scene.looks[i];
    const Seen& seen = result.looks[i];
    const double rms = std::sqrt(seen.squares / seeds);
    std::printf(
        "%-14s %5.1f s: rms %5.2f (largest slack %5.2f) worst %6.2f, U to %6.2f, of the whole %6.2f ppm; held %d, whole %d, bounds %d\n",
        name.c_str(), look.at_s, rms, std::sqrt(seen.roomiest_squares / seeds), seen.worst_ppm, seen.widest_ppm, seen.widest_whole_ppm,
        seen.held, seen.held_whole, seen.bounded);
    SCOPED_TRACE(std::to_string(look.at_s) + " s");
    EXPECT_GE(seen.held, seeds * 99 / 100) << "published interval of the window";
    EXPECT_GE(seen.held_whole, seeds * 99 / 100) << "published interval of the whole";
    EXPECT_EQ(seen.bounded, seeds) << "hard interval";
    constexpr double kAny = std::numeric_limits<double>::infinity();
    EXPECT_LE(seen.worst_ppm, look.within_ppm.value_or(kAny));
    EXPECT_LE(rms, look.rms_ppm.value_or(kAny));
    EXPECT_LE(std::max(seen.widest_ppm, seen.widest_whole_ppm), look.known_to_ppm.value_or(kAny));
  }
  EXPECT_EQ(result.contradicted, 0) << "contradictions with no reason";
  EXPECT_EQ(result.flagged, scene.flagged_within_s ? seeds : 0);
  if (!scene.flagged_within_s) return;
  std::printf("%-14s flagged within %.2f s\n", name.c_str(), result.slowest_flag_s);
  EXPECT_LE(result.slowest_flag_s, *scene.flagged_within_s);
}

INSTANTIATE_TEST_SUITE_P(Clock, Scenes, testing::ValuesIn(plays(kSeeds)), play_name);
INSTANTIATE_TEST_SUITE_P(SoakClock, Scenes, testing::ValuesIn(plays(kSoakSeeds)), play_name);

// The checks above can fail: an estimator that is worse in one respect is found out.

TEST(ScenesCanFail, HalfTheIntervalDoesNotHoldTheTruth) {
  const auto warm = tally(scene_named("warm-up-quiet"), kSeeds, 0.5).looks;
  EXPECT_LT(warm[1].held, kSeeds * 99 / 100);
  EXPECT_LT(warm[2].held_whole, kSeeds * 99 / 100);
  EXPECT_LT(tally(scene_named("drop-and-twice"), kSeeds, 0.5).looks[0].held, kSeeds * 99 / 100);
}

TEST(ScenesCanFail, WithoutRoomForDriftAWarmingBoardIsContradicted) {
  EXPECT_GT(tally(scene_named("warm-up-quiet"), kSeeds, 1, {.drift_ppm_per_s = 0.01}).contradicted, 0);
}

TEST(ScenesCanFail, AStepThatIsAveragedInIsNotHeld) {
  const auto deaf = tally(scene_named("rate-step"), kSeeds, 1, {.drift_proof = 1e9, .tolerance_ns = 1e9});
  EXPECT_EQ(deaf.flagged, 0);
  EXPECT_GT(deaf.looks[1].worst_ppm, 50) << "what the scene forbids at most";
}

TEST(ScenesCanFail, ABoardThatDriftsFasterThanAllowedIsContradicted) {
  Scene fast = scene_named("warm-up-quiet");
  fast.world.warm_up_ppm = 600;
  EXPECT_EQ(tally(fast, kSeeds).contradicted, kSeeds) << "5 ppm/s";
}

}  // namespace
}  // namespace midstick::clock::test
