#include "daemon/statistics/span_error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace midstick::statistics {
namespace {

const EndError kExact{{0, 0}}, kTick{{0, 1}};

TEST(SpanError, NormalAlone) { EXPECT_NEAR(half_width(kExact, kExact, 2), 2 * 1.959964, 1e-5); }

TEST(SpanError, OneRectangleAboutZero) {
  EXPECT_NEAR(half_width(kExact, {{-3, 3}}, 0), 0.95 * 3, 1e-4) << "k = 0.95 sqrt(3) = 1.645, not 2";
}

TEST(SpanError, RectangleThatIsNotAboutZeroKeepsItsMean) { EXPECT_NEAR(half_width(kExact, kTick, 0), 0.95, 1e-5); }

TEST(SpanError, DifferenceOfTwoAlikeIsATriangle) { EXPECT_NEAR(half_width(kTick, kTick, 0), 1 - std::sqrt(0.05), 1e-5); }

TEST(SpanError, ErrorThatBothEndsShareIsNoErrorOfTheSpan) {
  EXPECT_NEAR(half_width({{40, 41}}, {{40, 41}}, 0.1), half_width(kTick, kTick, 0.1), 1e-6);
}

TEST(SpanError, DifferentWidthsMakeATrapezoid) {
  // Half widths 4 and 1: flat top to 3, slopes to 5; the tails beyond x hold (5 - x)^2 / 16 of both sides together.
  EXPECT_NEAR(half_width({{-1, 1}}, {{-4, 4}}, 0), 5 - std::sqrt(0.05 * 16), 1e-4);
}

TEST(SpanError, WideNormalDrownsTheTicks) { EXPECT_NEAR(half_width(kTick, kTick, 1000), 1959.964, 0.01); }

TEST(SpanError, CoversWhatItSaysOfDrawnErrors) {
  const EndError begin{{-8, -7, 25}, {-3, -2, 70}, {2, 3, 5}}, end{{-8, -7, 10}, {-3, -2, 90}};
  const double sd = 0.3, half = half_width(begin, end, sd);
  EXPECT_NEAR(covered(begin, end, sd, half), 0.95, 1e-5);
  constexpr unsigned kSeed = 4;
  std::mt19937_64 random(kSeed);
  const auto draw = [&](const EndError& e) {
    std::vector<double> weights;
    for (const auto& r : e) weights.push_back(r.weight);
    const auto& r = e[static_cast<std::size_t>(std::discrete_distribution<int>(weights.begin(), weights.end())(random))];
    return std::uniform_real_distribution<>(r.low, r.high)(random);
  };
  std::normal_distribution<> normal(0, sd);
  constexpr int kDraws = 40'000;
  int inside = 0;
  for (int i = 0; i < kDraws; ++i) inside += std::abs(draw(end) - draw(begin) + normal(random)) <= half;
  EXPECT_NEAR(inside / double{kDraws}, 0.95, 4 * std::sqrt(0.95 * 0.05 / kDraws)) << "seed " << kSeed;
}

TEST(SpanError, MergingLosesNoWeight) {
  EndError many;
  for (int i = -20; i <= 20; ++i) many.push_back({i + 0.0, i + 1.0, 1});
  EXPECT_NEAR(covered(many, many, 0.2, 100), 1, 1e-12);
  EXPECT_NEAR(half_width(many, many, 0), 41 * (1 - std::sqrt(0.05)), 0.02) << "forty-one ticks side by side are one rectangle";
}

}  // namespace
}  // namespace midstick::statistics
