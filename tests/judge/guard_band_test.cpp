// The decision rule held to its own promises: a controller that stands a known way off a limit passes, fails and is left undecided as
// often as the rule's guard band says.
#include <gtest/gtest.h>

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <cmath>

#include "daemon/judge/decision.hpp"
#include "daemon/statistics/rates.hpp"
#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

constexpr double kLimitUs = 5, kSigmaUs = 8;
constexpr int kRuns = 300;

/// Runs of the neutral check on a controller whose neutral is `off_us` off and whose widths scatter normally, one a seed.
struct Placed {
  double off_us;
  std::vector<capture::Capture> captures;
};

script::Plan plan_under(double ratio) {
  auto plan = plan_with(R"([{"check": "neutral", "tolerance_us": 5, "for_ms": 1000}])");
  plan.guard_band = ratio;
  return plan;
}

std::vector<Placed> placed() {
  const Bench exact{.map_error_ppm = 0, .uncertainty_ppm = 1};
  const auto plan = plan_under(1);
  std::vector<Placed> all;
  for (const double off : {kLimitUs - 4, kLimitUs - 2, kLimitUs - 1, kLimitUs, kLimitUs + 1, kLimitUs + 2, kLimitUs + 4}) {
    Placed p{off, {}};
    for (int seed = 1; seed <= kRuns; ++seed)
      p.captures.push_back(run(plan, with([&](Behaviour& b) {
                                 b.neutral_off_us = off, b.clock_ppm = 0, b.width_noise_us = 0;
                                 b.width_sigma_us = kSigmaUs, b.noise_seed = static_cast<std::uint64_t>(seed);
                               }),
                               exact));
    all.push_back(std::move(p));
  }
  return all;
}

/// Chances that the rule gives a mean of n normal readings, by the non-central t distribution: pass when mean + r t s / sqrt(n) is inside.
struct Predicted {
  double pass, fail;
};
Predicted predicted(double off_us, double ratio, std::int64_t n) {
  const double t = statistics::student_t95(n - 1), root = std::sqrt(static_cast<double>(n));
  const boost::math::non_central_t distance(static_cast<double>(n - 1), (kLimitUs - off_us) * root / kSigmaUs);
  return {boost::math::cdf(boost::math::complement(distance, ratio * t)), boost::math::cdf(distance, -ratio * t)};
}

/// Is so many of n what this chance gives, in 999 of 1000 cases?
void expect_rate(int seen, int n, double chance, const std::string& what) {
  const boost::math::binomial b(n, std::clamp(chance, 1e-12, 1 - 1e-12));
  const double at_most = boost::math::cdf(b, seen), at_least = seen > 0 ? boost::math::cdf(boost::math::complement(b, seen - 1)) : 1;
  EXPECT_GT(std::min(at_most, at_least), 0.0005) << what << ": " << seen << " of " << n << ", the rule says " << chance * n;
}

TEST(GuardBand, PassesFailsAndWithholdsAsOftenAsTheRuleSays) {
  int undecided = 0;
  for (const Placed& p : placed())
    for (double ratio : {0.0, 0.83, 1.0}) {
      const auto plan = plan_under(ratio);
      int passed = 0, failed = 0;
      std::int64_t n = 0;
      for (const auto& c : p.captures) {
        const auto result = judge::judge_run(plan, c);
        const auto* m = measure(result.checks.front(), "left mean off neutral");
        n = m->samples;
        passed += m->verdict == Verdict::pass, failed += m->verdict == Verdict::fail;
      }
      const Predicted rule = predicted(p.off_us, ratio, n);
      const std::string where = std::to_string(p.off_us) + " us off, r " + std::to_string(ratio);
      expect_rate(passed, kRuns, rule.pass, "passed, " + where);
      expect_rate(failed, kRuns, rule.fail, "failed, " + where);
      expect_rate(kRuns - passed - failed, kRuns, 1 - rule.pass - rule.fail, "inconclusive, " + where);
      if (ratio == 0) {
        EXPECT_EQ(passed + failed, kRuns) << "simple acceptance always decides";
      }
      undecided += kRuns - passed - failed;
    }
  EXPECT_GT(undecided, kRuns) << "nothing stood in the guard band";
}

/// The expectation above is no formality: it tells r = 1 from r = 0.83.
TEST(GuardBand, AnotherRatioGivesOtherRates) {
  const auto all = placed();
  int as_one = 0, as_less = 0;
  for (const auto& c : all[1].captures) {
    as_one += measure(judge::judge_run(plan_under(1), c).checks.front(), "left mean off neutral")->verdict == Verdict::pass;
    as_less += measure(judge::judge_run(plan_under(0.83), c).checks.front(), "left mean off neutral")->verdict == Verdict::pass;
  }
  EXPECT_GT(as_less, as_one + 10);
}

judge::Measure told(double measured, std::optional<double> low, std::optional<double> high, double uncertainty) {
  return judge::measure("x", measured, low, high, uncertainty, "us", 1);
}

TEST(GuardBand, ConformanceProbabilityOfNumbersWithoutUncertaintyIsCertain) {
  EXPECT_EQ(judge::conformance_probability(told(5, {}, 5, 0)), 1);
  EXPECT_EQ(judge::conformance_probability(told(5, 5, {}, 0)), 1);
  EXPECT_EQ(judge::conformance_probability(told(5.1, {}, 5, 0)), 0);
  EXPECT_EQ(judge::conformance_probability(told(5, {}, {}, 1)), std::nullopt);
  EXPECT_EQ(judge::conformance_probability(told(5, {}, 5, INFINITY)), std::nullopt);
  EXPECT_NEAR(*judge::conformance_probability(told(5, {}, 5, 1)), 0.5, 1e-12);
}

TEST(GuardBand, WithheldMeasuresStayUndecidedUnderSimpleAcceptance) {
  const Bench bench;
  auto plan = plan_with(R"([{"check": "latency", "steps": 4}])");
  plan.guard_band = 0;
  EXPECT_EQ(judge::judge_run(plan, run(plan)).checks.front().verdict, Verdict::inconclusive);
}

}  // namespace
}  // namespace midstick::judge_test
