#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "daemon/report/html.hpp"
#include "daemon/report/junit.hpp"
#include "daemon/report/report_json.hpp"
#include "daemon/report/vcd.hpp"
#include "daemon/report/write_reports.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

TEST(WriteReports, WritesAllFourAndNothingElse) {
  const test::TempFolder folder;
  const auto world = test::mower_world();
  ASSERT_TRUE(write_reports(folder.path(), world.source()));
  EXPECT_EQ(test::read_text(folder.path("report.json")), report_json(world.source()));
  EXPECT_EQ(test::read_text(folder.path("junit.xml")), junit_xml(world.source()));
  EXPECT_EQ(test::read_text(folder.path("report.html")), report_html(world.source()));
  EXPECT_EQ(test::read_text(folder.path("capture.vcd")),
            capture_vcd(world.capture, world.plan.controller, world.plan.name, world.facts.started));
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator(folder.path()), {}), 4);
}

TEST(WriteReports, ReplacesWhatWasThere) {
  const test::TempFolder folder;
  folder.write("report.json", "old");
  ASSERT_TRUE(write_reports(folder.path(), test::mower_world().source()));
  EXPECT_EQ(test::read_text(folder.path("report.json")).substr(0, 1), "{");
}

TEST(WriteReports, FailureNamesTheFileAndLeavesTheOldReport) {
  const test::TempFolder folder;
  folder.write("report.json", "old");
  std::filesystem::create_directory(folder.path("junit.xml"));  // cannot be replaced by a file
  const auto status = write_reports(folder.path(), test::mower_world().source());
  ASSERT_FALSE(status);
  EXPECT_EQ(status.error().kind, ErrorKind::io);
  EXPECT_NE(status.error().message.find("junit.xml"), std::string::npos) << status.error().message;
  EXPECT_EQ(test::read_text(folder.path("report.json")), "old");
}

TEST(WriteReports, MissingFolderIsAnError) {
  const auto status = write_reports("/nonexistent/run", test::mower_world().source());
  ASSERT_FALSE(status);
  EXPECT_EQ(status.error().kind, ErrorKind::io);
}

}  // namespace
}  // namespace midstick::report
