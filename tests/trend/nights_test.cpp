// Real runs, real board and controller images on the virtual bench: a controller whose resonator drifts moves its neutral by 1 us a night,
// and the trend names it while every run still passes.
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>

#include "daemon/trend/trend.hpp"
#include "daemon/trend/words.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::trend {
namespace {

/// The mower's mixer spec, but judging in true microseconds: the demo's own allows for the controller's clock, which would take the drift
/// out.
std::filesystem::path true_time_mixer(const std::filesystem::path& file) {
  std::ifstream text(e2e::source("fixtures/mower/mixer.json"));
  auto mixer = nlohmann::json::parse(text, nullptr, true, true);
  mixer.erase("clock_percent");
  std::ofstream(file) << mixer.dump();
  return file;
}

TEST(NightsOnTheVirtualBench, ADriftingResonatorIsFlaggedWhileItsRunsStillPass) {
  const e2e::ScratchFolder folder;
  const auto mixer = true_time_mixer(folder / "mixer.json");
  constexpr int kStill = 14, kNights = 21;
  constexpr double kPerMicrosecond = 1e6 / 1500;  // ppm of the controller's clock that move 1500 us by 1 us
  constexpr double kStart = -3;                   // us off neutral before the drift: there is room up to +5
  const unsigned seed = 61;
  std::mt19937 random(seed);
  std::normal_distribution<double> warmth(0, 0.3);  // us: the workshop is not equally warm every night
  std::atomic<bool> never{false};
  for (int night = 0; night < kNights; ++night) {
    engine::RunRequest request;
    request.plan = e2e::source("tests/e2e/neutral-only.json");
    request.bench = "virtual:" + e2e::source("build/images/drive-correct.json").string();
    request.out = folder / ("runs/" + std::to_string(100 + night));
    request.mixer = mixer.string();
    request.build = "rev A";
    request.conditions.seed = static_cast<std::uint64_t>(night + 1);
    request.conditions.controller_ppm = kPerMicrosecond * (kStart + warmth(random) + std::max(0, night - kStill + 1));
    const auto outcome = engine::run(request, never);
    ASSERT_TRUE(outcome) << outcome.error().message;
    EXPECT_EQ(outcome->result.verdict, judge::Verdict::pass) << "night " << night + 1 << '\n' << e2e::verdicts(outcome->result);
  }
  const auto history = read_history({folder / "runs"});
  ASSERT_TRUE(history) << history.error().message;
  EXPECT_EQ(history->runs, static_cast<std::size_t>(kNights));
  Request request;
  request.metric = "left mean";
  const auto trend = analyse(history.value(), request);
  ASSERT_TRUE(trend) << trend.error().message;
  ASSERT_EQ(trend->metrics.size(), 1u);
  ASSERT_EQ(trend->metrics[0].metric.build, "rev A");
  const auto& drift = trend->metrics[0].chart.drift;
  ASSERT_TRUE(drift) << verdict_sentence(trend.value());
  std::printf("%s\n", drift_sentence(trend->metrics[0]).c_str());
  EXPECT_FALSE(drift->in_baseline);
  EXPECT_NEAR(static_cast<double>(drift->began), kStill, 1) << "seed " << seed;
  ASSERT_TRUE(drift->per_night);
  EXPECT_NEAR(std::abs(*drift->per_night), 1, drift->u_per_night + 0.1) << "seed " << seed;
}

}  // namespace
}  // namespace midstick::trend
