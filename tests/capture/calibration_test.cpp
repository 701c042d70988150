#include "daemon/capture/calibration.hpp"

#include <gtest/gtest.h>

#include "daemon/capture/capture.hpp"

namespace midstick::capture {
namespace {

constexpr const char* kNow = "2026-11-25T07:00:00Z";

Calibration made() {
  Calibration c;
  c.board = "bench 2";
  c.date = "2026-03-01T10:00:00Z";
  c.firmware = "1.0";
  c.schema_hash = "00c0ffee";
  return c;
}
Identity board() {
  Identity id;
  id.firmware = "1.0";
  id.schema_hash = "00c0ffee";
  return id;
}

TEST(CalibrationFits, SameBoardSameFirmwareInTime) { EXPECT_EQ(why_not(made(), board(), "bench 2", kNow), ""); }

TEST(CalibrationFits, NotAnotherBoards) { EXPECT_NE(why_not(made(), board(), "bench 1", kNow).find("bench 1"), std::string::npos); }

TEST(CalibrationFits, NotAnotherFirmwares) {
  auto id = board();
  id.firmware = "1.1";
  EXPECT_NE(why_not(made(), id, "bench 2", kNow).find("firmware 1.0"), std::string::npos);
  id = board();
  id.schema_hash = "00000001";
  EXPECT_NE(why_not(made(), id, "bench 2", kNow), "");
}

TEST(CalibrationFits, NotPastItsValidity) {
  auto c = made();
  EXPECT_EQ(valid_until(c), "2027-03-01");
  EXPECT_EQ(why_not(c, board(), "bench 2", "2027-03-01T23:59:59Z"), "");
  EXPECT_NE(why_not(c, board(), "bench 2", "2027-03-02T00:00:00Z").find("2027-03-01"), std::string::npos);
  c.valid_days = 30;
  EXPECT_NE(why_not(c, board(), "bench 2", kNow), "");
}

TEST(CalibrationFits, NotFromTheFutureOrFromNoDay) {
  EXPECT_NE(why_not(made(), board(), "bench 2", "2026-02-28T00:00:00Z"), "");
  for (const char* date : {"", "yesterday", "2026-02-30T00:00:00Z"}) {
    auto c = made();
    c.date = date;
    EXPECT_NE(why_not(c, board(), "bench 2", kNow), "") << date;
  }
}

TEST(CalibrationApplied, StampsMoveByWholeTicksTheRightWay) {
  Capture capture;
  capture.stimulus = {{{1000}, 0, true}, {{1000}, 1, true}};
  capture.response = {{{2000}, 0, true}, {{2001}, 1, true}, {{2002}, 2, true}};
  auto c = made();
  c.stimulus_late = {0.4, 1.6};
  c.response_late = {3, 0, -2.6};
  apply(c, capture);
  EXPECT_EQ(capture.stimulus[0].at, (BoardTime{1000}));
  EXPECT_EQ(capture.stimulus[1].at, (BoardTime{1002})) << "it came to the pin later than commanded";
  EXPECT_EQ(capture.response[0].at, (BoardTime{1997})) << "it was at the pin before its stamp";
  EXPECT_EQ(capture.response[2].at, (BoardTime{2005})) << "it was stamped too early";
  EXPECT_EQ(capture.calibration, c);
}

TEST(CalibrationApplied, EdgesStaySortedAndTiesKeepTheirOrder) {
  Capture capture;
  capture.response = {{{100}, 0, true}, {{101}, 1, true}, {{101}, 2, true}, {{102}, 1, false}};
  auto c = made();
  c.response_late = {0, 3, 3};
  apply(c, capture);
  std::vector<int> lines;
  for (const auto& e : capture.response) lines.push_back(e.line);
  EXPECT_EQ(lines, (std::vector<int>{1, 2, 1, 0}));
}

}  // namespace
}  // namespace midstick::capture
