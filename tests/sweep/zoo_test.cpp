// Swept, the zoo's correct controllers show the numbers of their own sources, and the spec written from the map is one that they pass.
#include <cstdio>
#include <fstream>
#include <vector>

#include "daemon/statistics/line_fit.hpp"
#include "tests/e2e/zoo.hpp"
#include "tests/sweep/support.hpp"
#include "tests/sweep/truth.hpp"

namespace midstick::sweep::test {
namespace {

constexpr double kLargestU = 2;         // us: an interval that holds the truth by being wide says nothing
constexpr double kLargestGainU = 0.02;  // us/us, of a bent curve's mean; a straight one's is far less

class Compared {
 public:
  explicit Compared(std::string style) : style_(std::move(style)) {}
  void value(const std::string& what, const std::optional<Value>& found, double truth, double largest_u = kLargestU) {
    ASSERT_TRUE(found) << style_ << " " << what;
    ++compared_;
    const double off = std::abs(found->value - truth);
    EXPECT_LE(off, found->u) << style_ << " " << what << ": found " << found->value << ", true " << truth;
    EXPECT_LE(found->u, largest_u) << style_ << " " << what;
    worst_share_ = std::max(worst_share_, off / found->u), worst_off_ = std::max(worst_off_, off), worst_u_ = std::max(worst_u_, found->u);
  }
  void print() const {
    std::printf("%s: %d numbers; largest distance from the source %.3f, largest U %.3f, largest distance in U %.2f\n", style_.c_str(),
                compared_, worst_off_, worst_u_, worst_share_);
  }

 private:
  std::string style_;
  int compared_{0};
  double worst_share_{0}, worst_off_{0}, worst_u_{0};
};

/// Slope of the line through the source's own answers over the stretch that the map's gain is of.
double true_gain(const Truth& truth, const CurveMap& curve, const SideMap& side, bool by_throttle) {
  std::vector<double> x, y;
  for (const CurvePoint& p : curve.points) {
    if (p.in < std::min(side.gain_from, side.gain_to) - 0.01 || p.in > std::max(side.gain_from, side.gain_to) + 0.01) continue;
    x.push_back(p.in);
    y.push_back(truth.output(by_throttle ? p.in : truth.centre, by_throttle ? truth.centre : p.in, curve.output == "left"));
  }
  return statistics::fit_line(x, y)->slope;
}

void recovers(const std::string& style) {
  const auto& kept = swept(style + "-correct");
  ASSERT_TRUE(kept.swept) << kept.swept.error().message;
  const Map& map = kept.swept.value().map;
  const Truth truth = truth_of(style);
  Compared compared(style);
  ASSERT_EQ(map.curves.size(), 4u);
  for (const CurveMap& c : map.curves) {
    const std::string what = c.output + " by " + c.input;
    EXPECT_TRUE(c.monotonic) << what << ": " << c.step_back;
    compared.value(what + " neutral", c.neutral, truth.neutral);
    for (const bool high : {false, true}) {
      const SideMap& s = high ? c.high : c.low;
      const double sign = high ? 1 : -1, end = high ? truth.highest_in : truth.lowest_in;
      const std::string side = what + (high ? " above" : " below");
      EXPECT_EQ(s.fit.jumps, truth.jumps) << side;
      compared.value(side + " leaving", s.leaving, truth.centre + sign * truth.leaving);
      compared.value(side + " entering", s.entering, truth.centre + sign * truth.entering);
      if (!truth.jumps) compared.value(side + " edge", s.edge, truth.centre + sign * truth.leaving, 1);
      compared.value(side + " end", s.end, end, 1);
      compared.value(
          side + " reach", s.fit.last,
          c.input == "throttle" ? truth.output(end, truth.centre, c.output == "left") : truth.output(truth.centre, end, c.output == "left"),
          1);
      compared.value(side + " gain", s.fit.gain, true_gain(truth, c, s, c.input == "throttle"), kLargestGainU);
    }
  }
  for (std::size_t o = 0; o < map.outputs.size(); ++o) {
    compared.value(map.outputs[o] + " lowest", map.low[o], truth.lowest, 1);
    compared.value(map.outputs[o] + " highest", map.high[o], truth.highest, 1);
  }
  EXPECT_EQ(map.unsettled, 0u);
  compared.print();
}

/// Checks that ask what a mixer spec says of the sticks.
constexpr const char* kMixChecks[] = {"neutral",   "dead-band", "edge-chatter", "static-mix", "sign-matrix", "saturation",
                                      "monotonic", "symmetry",  "slew",         "limits",     "latency"};
/// Of them, those that a test may take in every build.
constexpr const char* kQuickChecks[] = {"neutral", "dead-band", "static-mix", "saturation", "limits"};

std::filesystem::path plan_of(const std::string& id, const std::filesystem::path& mixer, const std::filesystem::path& into,
                              const std::vector<std::string>& checks) {
  nlohmann::json plan{{"format", "midstick plan 1"},
                      {"name", "by the swept spec"},
                      {"seed", 4},
                      {"mixer", mixer.string()},
                      {"checks", nlohmann::json::array()}};
  plan["controller"] = e2e::source("build/images/" + id + ".json").string();
  for (const auto& check : checks) plan["checks"].push_back({{"check", check}});
  std::ofstream(into) << plan.dump(1);
  return into;
}

judge::RunResult judged(const std::string& id, const std::filesystem::path& mixer, const std::vector<std::string>& checks) {
  const e2e::ScratchFolder scratch;
  const auto outcome =
      e2e::run_on_virtual(plan_of(id, mixer, scratch / "plan.json", checks), e2e::source("build/images/" + id + ".json"), scratch / "run");
  EXPECT_TRUE(outcome) << outcome.error().message;
  return outcome ? outcome.value().result : judge::RunResult{};
}

void passes_its_spec(const std::string& style, const std::vector<std::string>& checks) {
  const std::string id = style + "-correct";
  const auto& kept = swept(id);
  ASSERT_TRUE(kept.swept) << kept.swept.error().message;
  ASSERT_TRUE(std::filesystem::exists(kept.at("mixer.json"))) << kept.swept.value().mixer;
  const auto result = judged(id, kept.at("mixer.json"), checks);
  EXPECT_EQ(result.verdict, judge::Verdict::pass) << style << ", " << kept.swept.value().mixer << "\n" << e2e::verdicts(result);
  std::printf("%s: %s; %zu checks by that spec\n", style.c_str(), kept.swept.value().mixer.c_str(), result.checks.size());
}

// A sweep takes seconds and every test is a process of its own: all that one sweep shows is one test.
TEST(SweepZoo, DriveShowsTheNumbersOfItsSourceAndPassesItsSpec) {
  recovers("drive");
  passes_its_spec("drive", {std::begin(kQuickChecks), std::end(kQuickChecks)});
  // And that spec is one that can be failed.
  const auto result = judged("drive-side-gain", swept("drive-correct").at("mixer.json"), {"static-mix"});
  EXPECT_EQ(result.verdict, judge::Verdict::fail) << e2e::verdicts(result);
}
TEST(SweepZoo, BlendShowsTheNumbersOfItsSourceAndPassesItsSpec) {
  recovers("blend");
  passes_its_spec("blend", {std::begin(kQuickChecks), std::end(kQuickChecks)});
}

/// The other direction: were the map made of what the source ought to say, these would look right too.
TEST(SweepZoo, PlantedFaultsShowInTheMap) {
  const auto& kept = swept("drive-lopsided-limit");
  ASSERT_TRUE(kept.swept) << kept.swept.error().message;
  const Map& map = kept.swept.value().map;
  EXPECT_NEAR(map.low[0].value, 1000, map.low[0].u);
  EXPECT_NEAR(map.low[1].value, 992, map.low[1].u) << "its lower limit is 8 us too low";
  const double gains[] = {map.curve(0, 0).low.fit.gain->value, map.curve(0, 1).low.fit.gain->value};
  EXPECT_GT(gains[1] - gains[0], map.curve(0, 1).low.fit.gain->u) << "which stretches that side";
}

/// All six styles, and by every check of the mix.
class SoakSweepZoo : public testing::TestWithParam<const char*> {};
TEST_P(SoakSweepZoo, ShowsTheNumbersOfItsSourceAndPassesItsSpec) {
  recovers(GetParam());
  passes_its_spec(GetParam(), {std::begin(kMixChecks), std::end(kMixChecks)});
}
INSTANTIATE_TEST_SUITE_P(Soak, SoakSweepZoo, testing::Values("drive", "blend", "reverse", "capture", "pinchange", "fast"),
                         [](const auto& info) { return std::string(info.param); });

}  // namespace
}  // namespace midstick::sweep::test
