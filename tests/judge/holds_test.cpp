#include "daemon/judge/holds.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

/// Holds of a script of (throttle, steering, ms, silent) played on the default bench.
struct Stretch {
  double throttle, steering, ms;
  bool silent{false};
};

std::vector<judge::Hold> holds_of(const std::vector<Stretch>& moves, double jitter_us = 0) {
  static script::Plan plan;  // Context refers to it
  plan = plan_of({"static-mix"});
  plan.frame.jitter_us = jitter_us;
  script::StickScript own;
  own.frame = plan.frame;
  for (const auto& s : moves) {
    script::Move m;
    m.for_ms = s.ms;
    m.from = {{"throttle", s.throttle}, {"steering", s.steering}};
    if (s.silent) m.faults = {{"throttle", script::Fault::drop}, {"steering", script::Fault::drop}};
    own.moves.push_back(m);
  }
  plan.checks[0].script = own;
  static capture::Capture record;
  record = run(plan);
  const judge::Context context{plan, plan.checks[0], record, record.segments};
  static std::vector<judge::Traffic> traffic;
  traffic = judge::traffic_of(context).take();
  auto all = judge::holds(traffic[0], judge::still_us(plan, plan.checks[0]));
  std::erase_if(all, [](const judge::Hold& h) { return h.end.count - h.begin.count < 16 * 30'000; });  // slivers between two inputs
  return all;
}

TEST(Holds, EachRestIsFoundWithItsWidths) {
  const auto all = holds_of({{1700, 1500, 400}, {1700, 1300, 400}, {1200, 1300, 400}});
  ASSERT_EQ(all.size(), 4u) << "arming first";
  EXPECT_NEAR(all[1].throttle_us, 1700, 0.2);
  EXPECT_NEAR(all[2].steering_us, 1300, 0.2);
  EXPECT_NEAR(all[3].throttle_us, 1200, 0.2);
}

TEST(Holds, BeginWithTheFallOfTheFirstNewPulse) {
  const auto all = holds_of({{1700, 1500, 400}, {1200, 1500, 400}});
  ASSERT_EQ(all.size(), 3u);
  EXPECT_LE(all[1].end, all[2].begin);
  EXPECT_NEAR(static_cast<double>((all[2].begin - all[1].begin).count) / 16e3, 400, 2.0 + 0.6)
      << "frames of 20 ms, pulses of different width";
}

TEST(Holds, SilenceEndsARestAtItsLastPulse) {
  const auto all = holds_of({{1700, 1500, 400}, {1700, 1500, 400, true}, {1700, 1500, 400}});
  ASSERT_EQ(all.size(), 3u);
  EXPECT_LT(static_cast<double>((all[1].end - all[1].begin).count) / 16e3, 400);
  EXPECT_GT(static_cast<double>((all[2].begin - all[1].end).count) / 16e3, 400);
}

TEST(Holds, ReceiverJitterDoesNotBreakARest) {
  const auto all = holds_of({{1700, 1500, 2000}}, 3);
  ASSERT_EQ(all.size(), 2u);
  EXPECT_GT(all[1].half_us, 1);
  EXPECT_LE(all[1].half_us, 3.5);
}

}  // namespace
}  // namespace midstick::judge_test
