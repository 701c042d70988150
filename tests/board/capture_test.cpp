// Responses against the bench's own record of true edges: every edge is reported once, and its stamp keeps the promised bound.
#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "tests/board/load.hpp"

namespace midstick::board_test {
namespace {

using wire::EventCode;

/// Reported edges of a line, by time (the board may hand them over a little out of order).
std::vector<Edge> reported(const BoardHost& host, std::uint8_t line) {
  std::vector<Edge> some;
  std::copy_if(host.edges.begin(), host.edges.end(), std::back_inserter(some), [line](const Edge& edge) { return edge.line == line; });
  return some;
}

struct Accuracy {
  std::size_t edges{0}, delayed{0};
  int worst_lone{0}, worst_crowded{0};  ///< ticks
};

/// Ticks. A pin change that is not marked waited at most for the part of another handler after its look at the flag: 8 cycles, and one
/// instruction or cli section (16).
constexpr int kUnmarked = board::kPinChangeHalf + 8 + 8;

/// Pairs what was reported with what was true, line by line; every stamp must keep its bound, and a mark needs a reason.
Accuracy expect_true(const BoardHost& host) {
  Accuracy accuracy;
  const auto all = host.bench().truth();
  const auto near_another = [&](const vb::TrueEdge& edge) {
    const auto before = [](const vb::TrueEdge& a, std::uint64_t cycle) { return a.board_cycle < cycle; };
    auto other = std::lower_bound(all.begin(), all.end(), edge.board_cycle - 160, before);
    for (; other != all.end() && other->board_cycle <= edge.board_cycle + 160; ++other)
      if (!(*other == edge)) return true;
    return false;
  };
  for (std::uint8_t line = 0; line < 8; ++line) {
    const auto seen = reported(host, line);
    const auto truth = host.truth(vb::Wire::response, line);
    EXPECT_EQ(seen.size(), truth.size()) << "line " << int{line};
    if (seen.size() != truth.size()) continue;
    for (std::size_t i = 0; i < seen.size(); ++i) {
      const int off = std::abs(static_cast<std::int32_t>(seen[i].at - host.tick_of(truth[i].board_cycle)));
      EXPECT_EQ(seen[i].level, truth[i].level) << "line " << int{line} << " edge " << i;
      // The host marks pin changes within 10 us of another edge as well; the board's marks are those it knows to have waited.
      const bool crowded = seen[i].delayed || (line >= 2 && near_another(truth[i]));
      const int bound = crowded ? board::kPinChangeCrowded : line < 2 ? 1 : board::kPinChangeHalf;
      EXPECT_LE(off, bound) << "line " << int{line} << " edge " << i << (seen[i].delayed ? " delayed" : "");
      if (!seen[i].delayed) {
        EXPECT_LE(off, kUnmarked) << "line " << int{line} << " edge " << i << " waited and is not marked";
      }
      if (seen[i].delayed) {
        EXPECT_TRUE(near_another(truth[i])) << "line " << int{line} << " edge " << i << " is marked without reason";
      }
      int& worst = crowded ? accuracy.worst_crowded : accuracy.worst_lone;
      worst = std::max(worst, off);
      accuracy.delayed += seen[i].delayed;
      ++accuracy.edges;
    }
  }
  return accuracy;
}

/// Injected edges relative to `from`, in ticks of the board.
std::vector<vb::InjectedEdge> inject_at(BoardHost& host, std::uint32_t from, const std::vector<Edge>& edges) {
  std::vector<vb::InjectedEdge> list;
  for (const Edge& edge : edges) list.push_back({host.ns_of_tick(from) * 1000 + edge.at * 62'500LL, edge.line, edge.level});
  EXPECT_TRUE(host.bench().inject(list));
  return list;
}

class Responses : public testing::TestWithParam<std::uint64_t> {};

TEST_P(Responses, StampsKeepTheirBoundsUnderFullLoad) {
  std::mt19937_64 random(GetParam());
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  const double ms = 3000;
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  host.plan(six_lines(random, 333, ms, first));
  ASSERT_TRUE(host.bench().inject(eight_responses(random, 400, ms, host.ns_of_tick(first) * 1000)));
  host.stream_ms(ms + 200);
  const Accuracy accuracy = expect_true(host);
  RecordProperty("edges", static_cast<int>(accuracy.edges));
  std::printf("%zu edges, %zu delayed; worst lone %d ticks, worst crowded %d ticks\n", accuracy.edges, accuracy.delayed,
              accuracy.worst_lone, accuracy.worst_crowded);
  EXPECT_GT(accuracy.edges, 19'000u);
  EXPECT_GT(accuracy.delayed, 100u);
  EXPECT_EQ(host.statuses.back().edges_total, accuracy.edges);
  EXPECT_EQ(host.statuses.back().edges_dropped, 0);
  EXPECT_FALSE(host.saw(EventCode::unseen_runt));
}

INSTANTIATE_TEST_SUITE_P(Seeds, Responses, testing::Values(1, 2, 3));

TEST(Capture, LoopedBackPulsesAreStampedAtTheirCommandedTick) {
  BoardHost host;
  ASSERT_TRUE(host.bench().loop_back(0, 0));
  ASSERT_TRUE(host.bench().loop_back(3, 1));
  host.start();
  host.align();
  host.edges.clear();
  const std::uint32_t first = host.tick_now() + 40 * kMs;
  const auto plan = merged({pulses(0, first, 50'000, std::vector<std::uint32_t>(50, 24'001)),
                            pulses(3, first + 777, 50'000, std::vector<std::uint32_t>(50, 17'003))},
                           first);
  host.plan(plan);
  host.stream_ms(300);
  ASSERT_EQ(host.edges.size(), plan.size());
  for (std::uint8_t line : {0, 1}) {
    const auto seen = reported(host, line);
    std::vector<Edge> wanted;
    std::copy_if(plan.begin(), plan.end(), std::back_inserter(wanted), [line](const Edge& edge) { return edge.line == 3 * line; });
    ASSERT_EQ(seen.size(), wanted.size());
    for (std::size_t i = 0; i < seen.size(); ++i) EXPECT_LE(std::abs(static_cast<std::int32_t>(seen[i].at - wanted[i].at)), 1) << i;
  }
}

/// Runts of 1 to 200 ticks, alternately on R1 and R2, with `others` edges at about the same time; true when they are highs.
void make_runts(BoardHost& host, bool high, const std::vector<std::uint8_t>& others) {
  host.start();
  host.align();
  std::vector<Edge> edges;
  for (std::uint8_t line : {0, 1})
    if (!high) edges.push_back({line * 24'000u, line, true, false});
  for (std::uint32_t width = 1; width <= 200; ++width)
    for (std::uint8_t line : {0, 1}) {
      const std::uint32_t at = (width + 8) * 48'000 + line * 24'000u;
      edges.push_back({at, line, high, false});
      edges.push_back({at + width, line, !high, false});
      for (std::size_t i = 0; i < others.size(); ++i)
        edges.push_back({at + static_cast<std::uint32_t>(i * (width % 8)), others[i], (width + line) % 2 == 1, false});
    }
  std::stable_sort(edges.begin(), edges.end(), [](const Edge& a, const Edge& b) { return a.at < b.at; });
  host.bench().take_truth();
  host.edges.clear();
  inject_at(host, host.tick_now() + 10 * kMs, edges);
  host.stream_ms(700);
}

// A pulse shorter than the handler: the second edge comes before the edge select is turned over, in every place of the handler.
TEST(Capture, RuntOnAnInputCaptureLineIsReportedWithBothEdges) {
  for (bool high : {true, false}) {
    SCOPED_TRACE(high ? "highs" : "lows");
    BoardHost host;
    make_runts(host, high, {});
    const Accuracy accuracy = expect_true(host);
    EXPECT_GE(accuracy.edges, 800u);
    EXPECT_GT(accuracy.delayed, 20u) << "the way for edges that slip through was never taken";
    EXPECT_FALSE(host.saw(EventCode::unseen_runt));
  }
}

// Then the handler comes late as well. Still both edges are reported, and a stamp that may be outside its bound has its event.
TEST(Capture, RuntInACrowdIsReportedWithBothEdges) {
  BoardHost host;
  make_runts(host, true, {2, 3, 4, 5, 6, 7});
  for (std::uint8_t line : {0, 1}) {
    const auto seen = reported(host, line);
    const auto truth = host.truth(vb::Wire::response, line);
    ASSERT_EQ(seen.size(), truth.size());
    for (std::size_t i = 0; i < seen.size(); ++i) {
      EXPECT_EQ(seen[i].level, truth[i].level);
      const bool said = std::any_of(host.events.begin(), host.events.end(), [&](const wire::Event& event) {
        return event.kind == static_cast<std::uint8_t>(EventCode::unseen_runt) && event.value == line && event.at.count == seen[i].at;
      });
      const int bound = seen[i].delayed ? board::kPinChangeCrowded : 1;
      EXPECT_TRUE(said || std::abs(static_cast<std::int32_t>(seen[i].at - host.tick_of(truth[i].board_cycle))) <= bound)
          << "line " << int{line} << " edge " << i << " delayed " << seen[i].delayed;
    }
  }
}

// A notch shorter than the handler leaves two rises and no fall between: it cannot be stamped, but it is not passed over.
TEST(Capture, NotchWithinTheHandlersTimeIsAnEvent) {
  BoardHost host;
  host.start();
  host.align();
  host.edges.clear();
  inject_at(host, host.tick_now() + 10 * kMs, {{0, 0, true, false}, {2, 0, false, false}, {4, 0, true, false}, {40'000, 0, false, false}});
  host.run_ms(30);
  EXPECT_TRUE(host.saw(EventCode::unseen_runt, 0));
}

TEST(Capture, RuntOnAPinChangeLineIsReportedOrIsAnEvent) {
  BoardHost host;
  host.start(1 << 2);  // P1 alone, so that the event can name it
  host.align();
  host.bench().take_truth();
  for (std::uint32_t width = 1; width <= 120; ++width) {
    host.edges.clear();
    host.events.clear();
    inject_at(host, host.tick_now() + 2 * kMs, {{0, 2, true, false}, {width, 2, false, false}});
    host.run_ms(10);
    const bool both = host.edges.size() == 2 && host.edges[0].level && !host.edges[1].level;
    EXPECT_TRUE(both || (host.edges.empty() && host.saw(EventCode::unseen_runt, 2)))
        << width << " ticks, " << host.edges.size() << " edges";
    // From the change to the reading of the pins: 16 cycles late at most, and 17 on the way there.
    if (width > 33) {
      EXPECT_TRUE(both) << width;
    }
  }
}

TEST(Capture, TwoLinesThatMoveTogetherAreNoRunt) {
  BoardHost host;
  host.start();
  host.align();
  host.bench().take_truth();
  host.edges.clear();
  std::vector<Edge> pairs;
  for (std::uint32_t apart = 0; apart < 150; ++apart)
    for (bool level : {true, false}) {
      const std::uint32_t at = apart * 8000 + (level ? 0 : 4000);
      pairs.push_back({at, 2, level, false});
      pairs.push_back({at + apart, 5, level, false});
    }
  inject_at(host, host.tick_now() + 10 * kMs, pairs);
  host.run_ms(100);
  EXPECT_EQ(expect_true(host).edges, pairs.size());
  EXPECT_FALSE(host.saw(EventCode::unseen_runt));
}

TEST(Capture, OverflowIsCountedAndIsAFault) {
  BoardHost host;
  host.start(0xFF, 2000);
  host.align();
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), 0);
  host.run_ms(3);
  ASSERT_TRUE(host.relay_on());
  std::vector<Edge> storm;  // 160,000 edges a second on one line
  for (std::uint32_t i = 0; i < 3000; ++i) storm.push_back({i * 100, 2, i % 2 == 0, false});
  inject_at(host, host.tick_now() + 10 * kMs, storm);
  host.run_ms(60);
  EXPECT_TRUE(host.saw(EventCode::edges_dropped));
  EXPECT_TRUE(host.saw(EventCode::fault, static_cast<int>(wire::Fault::capture_overflow)));
  EXPECT_FALSE(host.relay_on());
  host.run_ms(200);
  EXPECT_GT(host.statuses.back().edges_dropped, 0);
}

TEST(Capture, OnlyTheLinesAskedForAreReported) {
  BoardHost host;
  host.start(0b0001'0101);
  host.align();
  host.edges.clear();
  std::vector<Edge> edges;
  for (std::uint8_t line = 0; line < 8; ++line) edges.push_back({line * 4000u, line, true, false});
  inject_at(host, host.tick_now() + 10 * kMs, edges);
  host.run_ms(200);
  ASSERT_EQ(host.edges.size(), 3u);
  for (const Edge& edge : host.edges) EXPECT_TRUE(edge.line == 0 || edge.line == 2 || edge.line == 4) << int{edge.line};
  EXPECT_EQ(host.statuses.back().levels, 0xFF);
}

}  // namespace
}  // namespace midstick::board_test
