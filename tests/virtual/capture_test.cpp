// Edges reach the board's pins where the record says, and the board's own capture hardware agrees with the record to the tick.
#include "fixtures/virtual/random.hpp"
#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

struct Stamp {
  char kind;  ///< 'r', 'f' input capture of R1; 'P', 'p' pin change of P1
  std::uint32_t tick;
};

std::vector<Stamp> parse(const std::string& bytes) {
  std::vector<Stamp> stamps;
  for (std::size_t i = 0; i + 5 <= bytes.size(); i += 5) {
    std::uint32_t tick = 0;
    for (int k = 3; k >= 0; --k) tick = tick << 8 | static_cast<std::uint8_t>(bytes[i + 1 + static_cast<std::size_t>(k)]);
    stamps.push_back({bytes[i], tick});
  }
  return stamps;
}

std::vector<InjectedEdge> random_pulses(std::uint64_t seed, std::uint8_t line, int count) {
  Random random{seed};
  std::vector<InjectedEdge> edges;
  std::int64_t at = 10'000'000'000 + static_cast<std::int64_t>(random.next() % 1'000'000);
  for (int i = 0; i < 2 * count; ++i) {
    edges.push_back({at, line, i % 2 == 0});
    at += 800'000'000 + static_cast<std::int64_t>(random.next() % 1'400'000'000);  // 0.8 to 2.2 ms, any picosecond
  }
  return edges;
}

TEST(Injection, RecordHoldsEveryEdgeAtTheFirstBoardCycleAfterIt) {
  auto options = board_only("board_pulse");
  options.board_ppm = -321;
  auto bench = make_bench(options);
  for (std::uint8_t line = 0; line < 8; ++line) ASSERT_TRUE(bench->inject(random_pulses(line + 1, line, 50)));
  bench->run_for(host_ms(300));
  for (std::uint8_t line = 0; line < 8; ++line) {
    const auto wanted = random_pulses(line + 1, line, 50);
    const auto seen = edges_of(bench->truth(), Wire::response, line);
    ASSERT_EQ(seen.size(), wanted.size()) << int{line};
    for (std::size_t i = 0; i < seen.size(); ++i) {
      EXPECT_EQ(seen[i].level, wanted[i].level);
      EXPECT_EQ(seen[i].source_ps, wanted[i].at_ps);
      EXPECT_GE(seen[i].true_ps, wanted[i].at_ps - 1);  // the record rounds down
      EXPECT_LE(seen[i].true_ps, wanted[i].at_ps + 62'600);
      EXPECT_EQ(bench->true_ps(seen[i].board_cycle), seen[i].true_ps);
    }
  }
}

TEST(Injection, InputCaptureStampsAgreeWithTheRecordToTheTick) {
  auto bench = make_bench(board_only("board_pulse"));
  ASSERT_TRUE(bench->inject(random_pulses(42, 0, 200)));
  const auto stamps = parse(receive(*bench, 400 * 5, host_ms(2000)));
  const auto seen = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_EQ(stamps.size(), 400u);
  ASSERT_EQ(seen.size(), 400u);
  const std::uint64_t start = seen[0].board_cycle - stamps[0].tick;  // when the firmware started its counter
  EXPECT_LT(start, 5000u);
  for (std::size_t i = 0; i < stamps.size(); ++i) {
    EXPECT_EQ(stamps[i].kind, seen[i].level ? 'r' : 'f') << i;
    EXPECT_EQ(stamps[i].tick + start, seen[i].board_cycle) << i;
  }
}

TEST(Injection, ControllerEdgesAreCapturedToTheTick) {
  auto options = with_controller("board_pulse", "toggler");
  options.controller_ppm = 777;
  auto bench = make_bench(options);
  auto stamps = parse(receive(*bench, 291 * 5, host_ms(500)));
  std::erase_if(stamps, [](const Stamp& stamp) { return stamp.kind == 'P'; });  // the toggler's third output, once at most
  stamps.resize(290);
  const auto seen = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_GE(seen.size(), 290u);
  const std::uint64_t start = seen[0].board_cycle - stamps[0].tick;
  for (std::size_t i = 0; i < stamps.size(); ++i) EXPECT_EQ(stamps[i].tick + start, seen[i].board_cycle) << i;
}

// The data sheet's cycles from a pin change of a sleeping chip: 5 to wake, 5 into the interrupt, 3 for the vector's jump, and 35 of the
// compiler's prologue (16 pushes and 3 single-cycle instructions) before the handler reads the counter.
TEST(Injection, PinChangeOfASleepingBoardCostsTheDataSheetsCycles) {
  auto bench = make_bench(board_only("board_pulse"));
  ASSERT_TRUE(bench->inject(random_pulses(9, 2, 100)));
  const auto stamps = parse(receive(*bench, 200 * 5, host_ms(1000)));
  const auto capture_start = make_bench(board_only("board_pulse"));
  ASSERT_TRUE(capture_start->inject(random_pulses(9, 0, 1)));
  const auto reference = parse(receive(*capture_start, 10, host_ms(100)));
  ASSERT_EQ(reference.size(), 2u);
  const std::uint64_t start = edges_of(capture_start->truth(), Wire::response, 0)[0].board_cycle - reference[0].tick;
  const auto seen = edges_of(bench->truth(), Wire::response, 2);
  ASSERT_EQ(stamps.size(), 200u);
  std::vector<std::uint64_t> late;
  for (std::size_t i = 0; i < stamps.size(); ++i) late.push_back(stamps[i].tick + start - seen[i].board_cycle);
  std::sort(late.begin(), late.end());
  EXPECT_EQ(late[0], 48u);
  EXPECT_EQ(late[190], 48u);  // the last few met another interrupt
}

TEST(Injection, EdgeInTheVeryCycleOfAReadWakesTheBoardLikeAnyOther) {
  auto bench = make_bench(board_only("board_pulse"));
  bench->run_until({10'000'000});  // a whole number of board cycles, and the board is asleep
  const InjectedEdge edges[] = {{10'000'000'000, 2, true}, {11'000'000'000, 0, true}};
  ASSERT_TRUE(bench->inject(edges));
  const auto stamps = parse(receive(*bench, 10, host_ms(5)));
  ASSERT_EQ(stamps.size(), 2u);
  const auto change = edges_of(bench->truth(), Wire::response, 2), capture = edges_of(bench->truth(), Wire::response, 0);
  EXPECT_EQ(change.at(0).true_ps, 10'000'000'000);
  const std::uint64_t start = capture.at(0).board_cycle - stamps[1].tick;
  EXPECT_EQ(stamps[0].tick + start - change.at(0).board_cycle, 48u);
}

TEST(Injection, LineOfAControllerAndThePastAreRefused) {
  auto bench = make_bench(with_controller("board_pulse", "toggler"));
  const InjectedEdge taken{1'000'000, 0, true}, free_line{5'000'000'000, 7, true};
  EXPECT_FALSE(bench->inject({&taken, 1}));
  EXPECT_TRUE(bench->inject({&free_line, 1}));
  bench->run_for(host_ms(10));
  EXPECT_FALSE(bench->inject({&free_line, 1}));
  EXPECT_EQ(edges_of(bench->truth(), Wire::response, 7).size(), 1u);
}

TEST(LoopBack, StimulusShowsAtTheResponseInTheSameCycle) {
  auto bench = make_bench(board_only("board_pulse"));
  ASSERT_TRUE(bench->loop_back(0, 0));
  const auto stamps = parse(receive(*bench, 40 * 5, host_ms(1000)));
  const auto out = edges_of(bench->truth(), Wire::stimulus, 0), in = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_EQ(stamps.size(), 40u);
  for (std::size_t i = 0; i < stamps.size(); ++i) EXPECT_EQ(out[i].board_cycle, in[i].board_cycle) << i;
  for (std::size_t i = 1; i < stamps.size(); i += 2) EXPECT_EQ(stamps[i].tick - stamps[i - 1].tick, 24000u) << i;
}

}  // namespace
}  // namespace midstick::virtual_bench
