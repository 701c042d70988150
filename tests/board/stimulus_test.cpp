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

INSTANTIATE_TEST_SUITE_P(Rates, FullLoad, testing::Values(50, 100, 333),
                         [](const auto& param) { return std::to_string(param.param) + "Hz"; });

/// Every 10 ms the first `lines` stimulus lines make their shortest high and their shortest low at the same ticks, while `responses` edges
/// come in, around each of the four edges in turn, together or spread over up to 20 us. What was planned.
std::vector<Edge> shortest_levels(BoardHost& host, std::uint8_t lines, const std::vector<std::uint8_t>& responses, std::uint32_t times) {
  host.start();
  host.align();
  host.bench().take_truth();
  const std::uint32_t shortest = host.hellos.back().shortest_level;
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  std::vector<std::vector<Edge>> lists;
  std::vector<vb::InjectedEdge> burst;
  for (std::uint32_t i = 0; i < times; ++i) {
    const std::uint32_t at = first + i * 160'000;
    for (std::uint8_t line = 0; line < lines; ++line)
      lists.push_back({{at, line, true}, {at + shortest, line, false}, {at + 2 * shortest, line, true}, {at + 3 * shortest, line, false}});
    for (std::size_t k = 0; k < responses.size(); ++k) {
      const auto shift = static_cast<std::int64_t>(i % 4 * shortest + i / 4 % 160) - 80 + static_cast<std::int64_t>(k * (i % 13) * 8);
      burst.push_back({host.ns_of_tick(at) * 1000 + shift * 62'500, responses[k], i % 2 == 0});
    }
  }
  EXPECT_TRUE(host.bench().inject(burst));
  auto plan = merged(lists, first);
  host.plan(plan);
  host.stream_ms(times * 10 + 100);
  return plan;
}

TEST(Stimulus, ShortestLevelsHoldOnAllLinesAtOnce) {
  BoardHost host;
  const auto plan = shortest_levels(host, 6, {}, 200);
  EXPECT_EQ(host.fault(), 0);
  expect_carried_out(host, plan);
}

TEST(Stimulus, ShortestLevelsHoldAgainstTwoOtherLinesAndThreeResponses) {
  BoardHost host;
  const auto plan = shortest_levels(host, 3, {0, 1, 2}, 700);
  EXPECT_EQ(host.fault(), 0);
  expect_carried_out(host, plan);
}

// More than the board promises: the run may end in a fault, but no edge is ever anywhere but at its tick.
TEST(Stimulus, TooManyEdgesAtOnceAreAFaultAndNeverAMovedEdge) {
  BoardHost host;
  const auto plan = shortest_levels(host, 6, {0, 1, 2, 3, 4, 5, 6, 7}, 700);
  EXPECT_TRUE(host.saw(wire::EventCode::fault, static_cast<int>(wire::Fault::stimulus_late))) << "the load was not too much after all";
  std::uint32_t cut = 0;
  for (const wire::Event& event : host.events)
    if (event.kind == static_cast<std::uint8_t>(wire::EventCode::fault)) cut = event.at.count;
  for (std::uint8_t line = 0; line < 6; ++line) {
    std::vector<Edge> wanted;
    std::copy_if(plan.begin(), plan.end(), std::back_inserter(wanted), [line](const Edge& edge) { return edge.line == line; });
    const auto seen = host.truth(vb::Wire::stimulus, line);
    ASSERT_LT(seen.size(), wanted.size());
    for (std::size_t i = 0; i < seen.size(); ++i) {
      const std::uint32_t at = host.tick_of(seen[i].board_cycle);
      const bool in_place = at == wanted[i].at && seen[i].level == wanted[i].level;
      const bool cut_low = i + 1 == seen.size() && !seen[i].level && cut - at < kMs;
      EXPECT_TRUE(in_place || cut_low) << "line " << int{line} << " edge " << i;
    }
  }
}

// Levels around the reach of the handlers, around whole turns of the 16-bit timers, and up to a second: first loaded by handler, then by
// the main loop.
TEST(Stimulus, LevelsOfAnyLengthHoldAcrossTimerTurns) {
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  std::vector<std::vector<Edge>> lists;
  std::uint32_t longest = 0;
  for (std::uint8_t line : {0, 2, 4, 5}) {
    std::vector<Edge> list;
    std::uint32_t at = first + line;
    bool level = true;
    for (std::uint32_t length :
         {55'990u, 55'999u, 56'000u, 56'010u, 65'535u, 65'536u, 65'537u, 65'600u, 131'072u, 200'000u, 16'000'000u, 320u, 60'000u})
      for (std::uint32_t more : {0u, 1u, 7u}) {
        list.push_back({at, line, level});
        level = !level;
        at += length + more;
      }
    if (!level) list.push_back({at, line, false});
    longest = std::max(longest, at - first);
    lists.push_back(list);
  }
  const auto plan = merged(lists, first);
  host.plan(plan);
  host.stream_ms(longest / 16000.0 + 100);
  EXPECT_EQ(host.fault(), 0);
  expect_carried_out(host, plan);
}

// The tick at which an edge falls into a turn of the timers does not matter: every compare value near the turn is met.
TEST(Stimulus, EdgesAtEveryTickAroundATimerTurn) {
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  std::vector<std::vector<Edge>> lists;
  for (std::uint32_t i = 0; i < 64; ++i) {
    const std::uint32_t turn = (first & ~0xFFFFu) + 0x10000 * (i + 1);
    for (std::uint8_t line = 0; line < 6; ++line) lists.push_back({{turn - 40 + i, line, true}, {turn - 40 + i + 20'000, line, false}});
  }
  const auto plan = merged(lists, first);
  host.plan(plan);
  host.stream_ms(400);
  EXPECT_EQ(host.fault(), 0);
  expect_carried_out(host, plan);
}

TEST(Stimulus, LateEdgeIsRefusedAndIsAFaultThatDropsEverything) {
  BoardHost host;
  host.start();
  host.align();
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), 0);
  host.run_ms(3);
  ASSERT_TRUE(host.relay_on());
  const std::uint32_t at = host.tick_now() + kMs;  // hello says 2 ms at least
  wire::FixedOutput<32> list;
  wire::EdgeWriter writer(wire::WireTick{at});
  writer.put(list, {wire::WireTick{at}, 1, true, false});
  EXPECT_EQ(host.refusal_of(wire::Stimulus{{at}, {list.data(), static_cast<std::uint8_t>(list.size())}}),
            static_cast<int>(wire::Refusal::late));
  host.run_ms(150);
  EXPECT_EQ(host.fault(), static_cast<int>(wire::Fault::stimulus_late));
  EXPECT_EQ(host.statuses.back().late, 1);
  EXPECT_FALSE(host.relay_on());
  EXPECT_TRUE(host.truth(vb::Wire::stimulus, 1).empty());
}

/// Refusal of a list, and whether anything of it happened.
struct Answer {
  int refusal;
  std::size_t edges;
};

Answer answer_to(const std::vector<Edge>& edges) {
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  const std::uint32_t base = host.tick_now() + 10 * kMs;
  wire::FixedOutput<256> list;
  wire::EdgeWriter writer(wire::WireTick{base});
  for (const Edge& edge : edges) writer.put(list, {wire::WireTick{base + edge.at}, edge.line, edge.level, false});
  const int refusal = host.refusal_of(wire::Stimulus{{base}, {list.data(), static_cast<std::uint8_t>(list.size())}});
  host.run_ms(60);
  return {refusal, host.truth(vb::Wire::stimulus).size()};
}

TEST(Stimulus, BadListsAreRefusedWhole) {
  const auto refused_for = [](const std::vector<Edge>& edges, wire::Refusal reason) {
    std::vector<Edge> list = {{0, 2, true}, {20'000, 2, false}};  // good, but in bad company
    list.insert(list.end(), edges.begin(), edges.end());
    const Answer answer = answer_to(list);
    EXPECT_EQ(answer.refusal, static_cast<int>(reason));
    EXPECT_EQ(answer.edges, 0u);
  };
  refused_for({{20'001, 3, false}}, wire::Refusal::not_alternating);
  refused_for({{20'001, 3, true}, {50'000, 3, true}}, wire::Refusal::not_alternating);
  refused_for({{20'001, 3, true}, {20'001 + board::kShortestLevel - 1, 3, false}}, wire::Refusal::too_close);
  refused_for({{19'000, 3, true}}, wire::Refusal::too_close);  // back in time
  refused_for({{20'001 + board::kLongestAhead, 3, true}}, wire::Refusal::too_far_ahead);
  refused_for({{20'001, 6, true}}, wire::Refusal::bad_value);
  EXPECT_EQ(answer_to({{0, 2, true}, {20'000, 2, false}}).refusal, 0);
  EXPECT_EQ(answer_to({{0, 2, true}, {20'000, 2, false}}).edges, 2u);
}

TEST(Stimulus, QueueHoldsWhatHelloPromisesAndNoMore) {
  BoardHost host;
  host.start();
  host.align();
  const std::uint32_t first = host.tick_now() + 400 * kMs;
  const int depth = host.hellos.back().queue_depth;
  wire::FixedOutput<256> list;
  wire::EdgeWriter writer(wire::WireTick{first});
  for (int i = 0; i < depth; ++i) writer.put(list, {wire::WireTick{first + 1000u * static_cast<std::uint32_t>(i)}, 0, i % 2 == 0, false});
  const auto size = static_cast<std::uint8_t>(list.size());
  EXPECT_EQ(host.refusal_of(wire::Stimulus{{first}, {list.data(), size}}), 0);
  EXPECT_EQ(host.acks.back().credits.of[0], 0);
  EXPECT_EQ(host.acks.back().credits.of[1], depth);
  wire::FixedOutput<256> more;
  wire::EdgeWriter again(wire::WireTick{first + 100'000});
  again.put(more, {wire::WireTick{first + 100'000}, 0, depth % 2 == 0, false});
  EXPECT_EQ(host.refusal_of(wire::Stimulus{{first + 100'000}, {more.data(), static_cast<std::uint8_t>(more.size())}}),
            static_cast<int>(wire::Refusal::no_credit));
}

}  // namespace
}  // namespace midstick::board_test
