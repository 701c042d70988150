// A calibration of the virtual bench finds what is true there, and refuses rounds that cannot be right.
#include "daemon/calibrate/calibrate.hpp"

#include <algorithm>

#include "daemon/store/calibration_file.hpp"
#include "tests/calibrate/calibrated.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::calibrate {
namespace {

const std::atomic<bool> kNever{false};

const ResultRow* row(const Study& s, const std::string& quantity) {
  const auto at = std::ranges::find(s.results, quantity, &ResultRow::quantity);
  return at == s.results.end() ? nullptr : &*at;
}

Study studied() { return study(virtual_rounds().rounds, virtual_rounds().hello).take(); }

// On the emulated chip an edge made by a timer is at the pin at its tick, and input capture stamps the tick of an edge: both offsets are 0.
TEST(Calibrate, HardwareStampsOfTheEmulatedChipAreNotLate) {
  const auto found = studied();
  for (const double late : found.calibration.stimulus_late) EXPECT_NEAR(late, 0, 1e-9);
  for (const std::size_t line : {0, 1}) EXPECT_NEAR(found.calibration.response_late[line], 0, 1e-9);
  for (const char* line : {"R1", "R2"}) {
    const auto* width = row(found, std::string("width on ") + line + ", too long");
    ASSERT_NE(width, nullptr);
    EXPECT_LE(std::abs(width->value), width->uncertainty);
  }
}

// The board takes back the middle of its bound (8 ticks); asleep, the usual case, a stamp really takes 3 ticks less than that.
TEST(Calibrate, PinChangesReadEarlyAndScatterWithinTheBoardsBound) {
  const auto& c = studied().calibration;
  for (std::size_t line = 2; line < 8; ++line) {
    EXPECT_LT(c.response_late[line], -2);
    EXPECT_GT(c.response_late[line], -6);
    EXPECT_NEAR(c.response_late[line], c.response_late[2], 0.5) << "one interrupt stamps them all";
  }
  ASSERT_FALSE(c.pin_change.empty());
  std::int64_t n = 0, sum = 0;
  for (const auto& d : c.pin_change) n += d.count, sum += d.ticks * d.count;
  EXPECT_GT(n, 1000);
  EXPECT_LE(std::abs(static_cast<double>(sum) / static_cast<double>(n)), 0.5) << "what is left after whole ticks are taken out";
  EXPECT_LE(c.pin_change.back().ticks - c.pin_change.front().ticks, 2 * 8 + 1);
}

TEST(Calibrate, AnotherSourceAndAnotherClockFindTheSame) {
  const auto other = play_virtual(99, -4000);
  const auto again = study(other.rounds, other.hello);
  ASSERT_TRUE(again.ok()) << again.error().message;
  const auto first = studied().calibration;
  EXPECT_NEAR(again->calibration.clock_ppm, -4000, 50);
  for (std::size_t line = 0; line < 8; ++line) EXPECT_NEAR(again->calibration.response_late[line], first.response_late[line], 0.5) << line;
}

TEST(Calibrate, ALateLineIsSeenAndItsSignIsRight) {
  auto rounds = virtual_rounds().rounds;
  for (auto& loop : rounds.loops)
    for (auto& e : loop.response)
      if (e.line == 1) e.at = e.at + BoardSpan{3};  // R2's stamps 3 ticks late
  for (auto& e : rounds.loops[4].response)
    if (e.line < 2) e.at = e.at + BoardSpan{2};  // S5 reaches the pins 2 ticks late
  const auto found = study(rounds, virtual_rounds().hello);
  ASSERT_TRUE(found.ok()) << found.error().message;
  const auto& c = found->calibration;
  EXPECT_NEAR(c.response_late[1] - c.response_late[0], 3, 1e-9);
  EXPECT_NEAR(c.stimulus_late[4] - c.stimulus_late[0], 2, 1e-9);
}

TEST(Calibrate, AMissingJumperIsNamed) {
  auto rounds = virtual_rounds().rounds;
  std::erase_if(rounds.loops[2].response, [](const auto& e) { return e.line == 4; });
  const auto found = study(rounds, virtual_rounds().hello);
  ASSERT_FALSE(found.ok());
  EXPECT_EQ(found.error().kind, ErrorKind::bench_unfit);
  EXPECT_NE(found.error().message.find("S3 to P3: 0 of 160 edges arrived"), std::string::npos) << found.error().message;
}

TEST(Calibrate, AnInputCaptureThatScattersIsNoCalibration) {
  auto rounds = virtual_rounds().rounds;
  int i = 0;
  for (auto& e : rounds.loops[0].response)
    if (e.line == 0 && ++i % 7 == 0) e.at = e.at + BoardSpan{40};
  EXPECT_FALSE(study(rounds, virtual_rounds().hello).ok());
}

TEST(Calibrate, LoneStampsPastTheBoardsBoundAreRefused) {
  auto rounds = virtual_rounds().rounds;
  int i = 0;
  for (auto& e : rounds.source->response)
    if (e.line == 2 && ++i % 20 == 0) e.at = e.at + BoardSpan{30};
  const auto found = study(rounds, virtual_rounds().hello);
  ASSERT_FALSE(found.ok());
  EXPECT_NE(found.error().message.find("further off than the board promises"), std::string::npos) << found.error().message;
}

TEST(Calibrate, LoopedPinChangesPastTheCrowdedBoundAreRefused) {
  auto rounds = virtual_rounds().rounds;
  for (auto& e : rounds.loops[0].response)
    if (e.line == 3) e.at = e.at + BoardSpan{70};
  EXPECT_FALSE(study(rounds, virtual_rounds().hello).ok());
}

TEST(Calibrate, WithoutASourceTheBoundStays) {
  auto rounds = virtual_rounds().rounds;
  rounds.source.reset();
  const auto found = study(rounds, virtual_rounds().hello);
  ASSERT_TRUE(found.ok()) << found.error().message;
  EXPECT_TRUE(found->calibration.pin_change.empty());
  EXPECT_EQ(found->calibration.response_late[2], 0);
}

TEST(Calibrate, ASilentSourceIsSaidSo) {
  auto rounds = virtual_rounds().rounds;
  rounds.source->response.clear();
  const auto found = study(rounds, virtual_rounds().hello);
  ASSERT_FALSE(found.ok());
  EXPECT_NE(found.error().message.find("pulse source"), std::string::npos);
}

TEST(Calibrate, WritesItsFilesAndTheyAreReadAgain) {
  const e2e::ScratchFolder folder;
  CalibrateRequest request;
  request.bench = "virtual:loopback";
  request.out = folder / "calibration";
  request.supply_mv = 4980;
  const auto outcome = calibrate(request, kNever);
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  const auto read = store::read_calibration(request.out / "calibration.json");
  ASSERT_TRUE(read.ok()) << read.error().message;
  EXPECT_EQ(read->board, "virtual");
  EXPECT_EQ(read->supply_mv, 4980);
  EXPECT_EQ(read.value(), outcome->certificate.study.calibration);
  EXPECT_TRUE(std::filesystem::exists(request.out / "certificate.html"));
  EXPECT_TRUE(std::filesystem::exists(request.out / "certificate.json"));
}

TEST(Calibrate, RefusesABenchWithAControllerOnIt) {
  CalibrateRequest request;
  request.bench = std::string("virtual:") + MIDSTICK_SOURCE + "/fixtures/mower/controller.json";
  const auto outcome = calibrate(request, kNever);
  ASSERT_FALSE(outcome.ok());
  EXPECT_EQ(outcome.error().kind, ErrorKind::usage);
}

TEST(HandJumpers, CautionComesFirstAndNoStops) {
  std::vector<std::string> asked;
  HandJumpers hand([&](const std::string& text) { return asked.push_back(text), asked.size() < 3; }, true);
  EXPECT_TRUE(hand.loop(0).ok());
  EXPECT_TRUE(hand.loop(1).ok());
  EXPECT_NE(asked[0].find("CAUTION"), std::string::npos);
  EXPECT_NE(asked[0].find("unplugged"), std::string::npos);
  EXPECT_NE(asked[1].find("S2"), std::string::npos);
  EXPECT_EQ(hand.loop(2).error().kind, ErrorKind::stopped);
  HandJumpers without([](const std::string&) { return true; }, false);
  EXPECT_FALSE(without.pulse_source(host_ms(1)).value());
}

}  // namespace
}  // namespace midstick::calibrate
