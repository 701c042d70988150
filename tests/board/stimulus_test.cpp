// Stimulus lines against the bench's own record of true edges: every commanded edge happens, once, at its tick.
#include <algorithm>
#include <cmath>

#include "tests/board/load.hpp"

namespace midstick::board_test {
namespace {

/// Holds what happened at the stimulus pins against the plan. The requirement: every width within 2 ticks, mean error under 0.2 tick, none
/// missing and none more.
void expect_carried_out(const BoardHost& host, const std::vector<Edge>& plan) {
  double sum = 0;
  std::size_t widths = 0;
  for (std::uint8_t line = 0; line < 6; ++line) {
    std::vector<Edge> wanted;
    std::copy_if(plan.begin(), plan.end(), std::back_inserter(wanted), [line](const Edge& edge) { return edge.line == line; });
    const auto seen = host.truth(vb::Wire::stimulus, line);
    ASSERT_EQ(seen.size(), wanted.size()) << "line " << int{line};
    for (std::size_t i = 0; i < seen.size(); ++i) {
      ASSERT_EQ(seen[i].level, wanted[i].level) << "line " << int{line} << " edge " << i;
      const auto off = static_cast<std::int32_t>(host.tick_of(seen[i].board_cycle) - wanted[i].at);
      ASSERT_LE(std::abs(off), 2) << "line " << int{line} << " edge " << i;
      if (seen[i].level) continue;
      const auto width = static_cast<std::int64_t>(seen[i].board_cycle - seen[i - 1].board_cycle);
      const std::int64_t error = width - static_cast<std::int64_t>(wanted[i].at - wanted[i - 1].at);
      ASSERT_LE(std::llabs(error), 2) << "line " << int{line} << " edge " << i;
      sum += static_cast<double>(error);
      ++widths;
    }
  }
  ASSERT_GT(widths, 0u);
  EXPECT_LT(std::abs(sum / static_cast<double>(widths)), 0.2);
}

class FullLoad : public testing::TestWithParam<int> {};

TEST_P(FullLoad, SixLinesKeepTheirWidthsWhileEightResponsesAreCaptured) {
  const std::uint64_t seed = 20 + static_cast<std::uint64_t>(GetParam());
  SCOPED_TRACE("seed " + std::to_string(seed));
  std::mt19937_64 random(seed);
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  const double ms = 4000;
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  const auto plan = six_lines(random, GetParam(), ms, first);
  ASSERT_TRUE(host.bench().inject(eight_responses(random, 400, ms, host.ns_of_tick(first) * 1000)));
  host.plan(plan);
  host.stream_ms(ms + 200);
  expect_carried_out(host, plan);
  EXPECT_EQ(host.fault(), 0);
  EXPECT_EQ(host.gaps, 0);
  EXPECT_EQ(host.bench().board_uart_overruns(), 0u);
  EXPECT_EQ(host.statuses.back().stimulus_done, plan.size() + 2);
  EXPECT_EQ(host.edges.size(), host.truth(vb::Wire::response).size());
}

INSTANTIATE_TEST_SUITE_P(Rates, FullLoad, testing::Values(50, 100, 333), [](const auto& param) { return std::to_string(param.param) + "Hz"; });

}  // namespace
}  // namespace midstick::board_test
