// Long runs at full load: not one edge lost either way. Ten minutes of board time under the label `soak`, twenty seconds in every test run.
#include <algorithm>
#include <cstdlib>

#include "tests/board/load.hpp"

namespace midstick::board_test {
namespace {

/// Every response edge of the record reported once, at its place in line, with its level, and near its time.
void expect_all_reported(const BoardHost& host) {
  for (std::uint8_t line = 0; line < 8; ++line) {
    std::vector<Edge> seen;
    std::copy_if(host.edges.begin(), host.edges.end(), std::back_inserter(seen), [line](const Edge& edge) { return edge.line == line; });
    const auto truth = host.truth(vb::Wire::response, line);
    ASSERT_EQ(seen.size(), truth.size()) << "line " << int{line};
    for (std::size_t i = 0; i < seen.size(); ++i) {
      ASSERT_EQ(seen[i].level, truth[i].level) << "line " << int{line} << " edge " << i;
      ASSERT_LE(std::abs(static_cast<std::int32_t>(seen[i].at - host.tick_of(truth[i].board_cycle))), board::kPinChangeCrowded)
          << "line " << int{line} << " edge " << i;
    }
  }
}

/// Eight response lines at 400 Hz and six stimulus lines at 333 Hz for `seconds`, in slices of two seconds.
void run_at_full_load(int seconds, std::uint64_t seed) {
  SCOPED_TRACE("seed " + std::to_string(seed));
  std::mt19937_64 random(seed);
  BoardHost host;
  host.start();
  host.align();
  std::size_t responses = 0, stimulus = 0;
  for (int slice = 0; slice < seconds / 2; ++slice) {
    host.bench().take_truth();
    host.edges.clear();
    const std::uint32_t first = host.tick_now() + 20 * kMs;
    const auto plan = six_lines(random, 333, 1990, first);
    host.plan(plan);
    ASSERT_TRUE(host.bench().inject(eight_responses(random, 400, 1990, host.ns_of_tick(first) * 1000)));
    host.stream_ms(2030);
    ASSERT_EQ(host.fault(), 0) << "slice " << slice;
    ASSERT_NO_FATAL_FAILURE(expect_all_reported(host)) << "slice " << slice;
    ASSERT_EQ(host.truth(vb::Wire::stimulus).size(), plan.size()) << "slice " << slice;
    responses += host.edges.size();
    stimulus += plan.size();
  }
  EXPECT_EQ(host.gaps, 0);
  EXPECT_EQ(host.bad_frames, 0);
  EXPECT_EQ(host.statuses.back().edges_dropped, 0);
  EXPECT_EQ(host.statuses.back().bad_frames, 0);
  EXPECT_EQ(host.bench().board_uart_overruns(), 0u);
  EXPECT_FALSE(host.saw(wire::EventCode::unseen_runt));
  std::printf("%zu response edges and %zu stimulus edges, none lost\n", responses, stimulus);
}

TEST(FullLoadRun, TwentySecondsLoseNoEdge) { run_at_full_load(20, 5); }

TEST(Soak, TenMinutesLoseNoEdge) { run_at_full_load(600, 6); }

}  // namespace
}  // namespace midstick::board_test
