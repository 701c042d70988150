// Board clock off by +-0.5 % and controller clock off by +-0.5 %: a width still reads within 0.25 us of the truth.
//
// The truth is the virtual bench's own record, in true time, at the wire: independent of firmware, clock map and judge.
#include <cmath>

#include "daemon/engine/player.hpp"
#include "daemon/engine/programme.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/script/load.hpp"
#include "fixtures/virtual/bench.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

struct Clocks {
  double board_ppm, controller_ppm;
};

class ClockError : public testing::TestWithParam<Clocks> {};

/// Widths of the highs of one wire and line, us of true time, by the instant they left their source. `end`: of the capture; the wires go on
/// until power is off.
std::vector<double> true_widths_us(const virtual_bench::TruthRecord& truth, virtual_bench::Wire wire, std::uint8_t line, HostTime end) {
  std::vector<double> widths;
  std::int64_t rise = -1;
  for (const auto& e : truth) {
    if (e.wire != wire || e.line != line || e.true_ps > end.count * 1000) continue;
    if (e.level)
      rise = e.source_ps;
    else if (rise >= 0)
      widths.push_back(static_cast<double>(e.source_ps - rise) / 1e6);
  }
  return widths;
}

/// Widths the bench reports for the same line.
std::vector<double> read_widths_us(const capture::Capture& capture, const std::vector<capture::Edge>& edges, std::uint8_t line) {
  std::vector<double> widths;
  const capture::Edge* rise = nullptr;
  for (const auto& e : edges) {
    if (e.line != line || e.at > capture.end) continue;
    if (e.level)
      rise = &e;
    else if (rise)
      widths.push_back(capture.clock.us(e.at - rise->at));
  }
  return widths;
}

void expect_equal_within(const std::vector<double>& read, const std::vector<double>& truth, double limit_us, const char* what) {
  ASSERT_EQ(read.size(), truth.size()) << what;
  ASSERT_GT(read.size(), 100u) << what;
  double worst = 0;
  for (std::size_t i = 0; i < read.size(); ++i) worst = std::max(worst, std::abs(read[i] - truth[i]));
  EXPECT_LE(worst, limit_us) << what << ", over " << read.size() << " pulses";
  testing::Test::RecordProperty(what, std::to_string(worst));
}

TEST_P(ClockError, WidthsReadWithinAQuarterMicrosecondOfTheTruth) {
  auto plan = script::load_plan(source("tests/e2e/short.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  auto programme = engine::compose(plan.value(), 7);
  ASSERT_TRUE(programme.ok()) << programme.error().message;
  virtual_bench::VirtualBenchOptions options;
  options.controller = plan->controller;
  options.board_ppm = GetParam().board_ppm;
  options.controller_ppm = GetParam().controller_ppm;
  auto bench = virtual_bench::VirtualBench::make(options);
  ASSERT_TRUE(bench.ok()) << bench.error().message;
  static const std::atomic<bool> never{false};
  engine::Session session(**bench, never);
  ASSERT_TRUE(session.open().ok());
  ASSERT_TRUE(session.settle_clock(100, host_ms(10'000)).ok());
  const auto outcome = engine::play(session, programme.value(), plan->controller, {});
  ASSERT_FALSE(outcome.cut_short) << outcome.cut_short->message;
  const auto& map = outcome.capture.clock;
  EXPECT_NEAR(map.ppm(), options.board_ppm, map.uncertainty_ppm);
  EXPECT_LT(map.uncertainty_ppm, 20);
  ASSERT_TRUE(outcome.capture.clock_facts);
  const auto& facts = *outcome.capture.clock_facts;
  EXPECT_EQ(facts.state, clock::ClockState::locked);
  EXPECT_LE(facts.hard_low_ppm, options.board_ppm);
  EXPECT_GE(facts.hard_high_ppm, options.board_ppm);
  EXPECT_LT(facts.hard_high_ppm - facts.hard_low_ppm, 500);
  EXPECT_EQ(facts.contradictions, 0);
  EXPECT_TRUE(facts.host.is_virtual);
  const auto& truth = (*bench)->truth();
  const HostTime end = outcome.capture.clock.to_host(outcome.capture.end);
  for (const auto& pin : plan->controller.inputs)
    expect_equal_within(read_widths_us(outcome.capture, outcome.capture.stimulus, pin.line_no),
                        true_widths_us(truth, virtual_bench::Wire::stimulus, pin.line_no, end), 0.25, pin.name.c_str());
  for (const auto& pin : plan->controller.outputs)
    expect_equal_within(read_widths_us(outcome.capture, outcome.capture.response, pin.line_no),
                        true_widths_us(truth, virtual_bench::Wire::response, pin.line_no, end), 0.25, pin.name.c_str());
}

INSTANTIATE_TEST_SUITE_P(Corners, ClockError,
                         testing::Values(Clocks{5000, 5000}, Clocks{5000, -5000}, Clocks{-5000, 5000}, Clocks{-5000, -5000}, Clocks{0, 0}));

}  // namespace
}  // namespace midstick::e2e
