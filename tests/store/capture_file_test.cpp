// The capture file is exact both ways and refuses what is not one.
#include "daemon/store/capture_file.hpp"

#include <gtest/gtest.h>

namespace midstick::store {
namespace {

capture::Capture small_capture() {
  capture::Capture c;
  c.identity = {"bench board", 7, "1.0", "00c0ffee", "drive controller", "fnv", "virtual:x.json"};
  c.clock.boot_id = 7;
  c.clock.board_origin = {123};
  c.clock.host_origin = {-5};
  c.clock.ns_per_tick = 62.5 * 1.004999;
  c.clock.uncertainty_ppm = 12.5;
  c.clock.samples = 31;
  c.clock_facts = {clock::ClockState::suspect, 4990.125, 5010.5, std::nullopt, 2, {false, clock::Synchronised::no, -17.25}};
  c.begin = {100};
  c.end = {5'000'000'000};
  c.complete = true;
  c.stimulus = {{{1000}, 0, true, 1, false}, {{25000}, 0, false, 1, false}};
  c.response = {{{1100}, 7, true, 8, false}, {{25100}, 7, false, 90, true}, {{4'999'999'999}, 0, true, 1, false}};
  c.events = {{{99}, capture::EventKind::edges_lost, 3, {50}, "3 edges lost"}};
  c.segments = {{2, 1, {1000}, {30000}, {{{1500}, "point", {1500.25, std::nan("")}}}}};
  return c;
}

TEST(CaptureFile, RoundTripIsExact) {
  const auto before = small_capture();
  const std::string text = capture_to_json(before);
  const auto after = capture_from_json(text, "capture.json");
  ASSERT_TRUE(after.ok()) << after.error().message;
  EXPECT_EQ(after->stimulus, before.stimulus);
  EXPECT_EQ(after->response, before.response);
  EXPECT_EQ(after->events, before.events);
  EXPECT_EQ(after->clock.ns_per_tick, before.clock.ns_per_tick);
  EXPECT_TRUE(std::isnan(after->segments.at(0).marks.at(0).values.at(1)));
  EXPECT_EQ(capture_to_json(after.value()), text);
}

TEST(CaptureFile, OneWithoutFactsOfItsClockIsStillRead) {
  auto older = small_capture();
  older.clock_facts.reset();
  std::string text = capture_to_json(older);
  const std::string none = "\"clock_facts\":null,";
  ASSERT_NE(text.find(none), std::string::npos);
  text.erase(text.find(none), none.size());
  const auto after = capture_from_json(text, "capture.json");
  ASSERT_TRUE(after.ok()) << after.error().message;
  EXPECT_FALSE(after->clock_facts);
}

TEST(CaptureFile, AClockStateNobodyKnowsIsRefused) {
  std::string text = capture_to_json(small_capture());
  text.replace(text.find("suspect"), 7, "perfect");
  EXPECT_FALSE(capture_from_json(text, "capture.json").ok());
}

TEST(CaptureFile, CalibrationIsPartOfTheCapture) {
  auto before = small_capture();
  before.calibration.emplace();
  before.calibration->board = "bench 2";
  before.calibration->response_late = {3, 2.5};
  before.calibration->pin_change = {{-1, 10}, {0, 20}};
  const auto after = capture_from_json(capture_to_json(before), "capture.json");
  ASSERT_TRUE(after.ok()) << after.error().message;
  EXPECT_EQ(after->calibration, before.calibration);
  before.calibration.reset();
  before.calibration_note = "too old";
  const auto without = capture_from_json(capture_to_json(before), "capture.json");
  ASSERT_TRUE(without.ok());
  EXPECT_FALSE(without->calibration.has_value());
  EXPECT_EQ(without->calibration_note, "too old");
}

TEST(CaptureFile, DisorderedEdgesAreRefusedWithTheirIndex) {
  std::string text = capture_to_json(small_capture());
  const auto at = text.find("[1000,24000]");
  ASSERT_NE(at, std::string::npos);
  text.replace(at, 12, "[1000,-4000]");
  const auto result = capture_from_json(text, "capture.json");
  ASSERT_FALSE(result.ok());
  EXPECT_NE(result.error().message.find("not in order of time at index 1"), std::string::npos) << result.error().message;
}

TEST(CaptureFile, EveryTruncationIsRefused) {
  const std::string text = capture_to_json(small_capture());
  for (std::size_t n = 0; n + 2 < text.size(); ++n) EXPECT_FALSE(capture_from_json(text.substr(0, n), "cut").ok()) << n;
}

TEST(CaptureFile, AnotherFormatIsNamedInTheError) {
  const auto result = capture_from_json(R"({"format":"midstick capture 9"})", "x.json");
  ASSERT_FALSE(result.ok());
  EXPECT_NE(result.error().message.find("x.json: /format is \"midstick capture 9\""), std::string::npos) << result.error().message;
}

}  // namespace
}  // namespace midstick::store
