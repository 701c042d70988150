#include <gtest/gtest.h>

#include <regex>
#include <set>

#include "daemon/report/caution.hpp"
#include "daemon/report/html.hpp"
#include "daemon/report/text.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using test::mower_world;

int occurrences(const std::string& text, const std::string& part) {
  int n = 0;
  for (std::size_t at = 0; (at = text.find(part, at)) != std::string::npos; at += part.size()) ++n;
  return n;
}

TEST(ReportHtml, IsWellFormedAsAnOutsideParserReadsIt) {
  const test::TempFolder folder;
  for (const auto& world : {mower_world(), test::empty_world()}) {
    auto page = report_html(world.source());
    // Void elements are the only difference between this page and XML.
    page = std::regex_replace(page, std::regex("<meta ([^>]*)>"), "<meta $1/>");
    const auto ran = test::run_command("xmllint --noout --nonet " + folder.write("page.xml", page));
    EXPECT_EQ(ran.exit_code, 0) << ran.output;
  }
}

TEST(ReportHtml, NeedsNoNetworkAndNoScript) {
  const auto page = report_html(mower_world().source());
  for (const char* forbidden : {"<script", "http:", "https:", "@import", "src=", "<link", "onload", "<iframe"})
    EXPECT_EQ(page.find(forbidden), std::string::npos) << forbidden;
  // Every url() is a place in the page itself.
  EXPECT_EQ(occurrences(page, "url("), occurrences(page, "url(#"));
}

TEST(ReportHtml, VerdictComesFirstInWords) {
  const auto page = report_html(mower_world().source());
  const auto heading = page.find("<h1>");
  ASSERT_NE(heading, std::string::npos);
  EXPECT_LT(page.find("Fail</span></h1>"), page.find("<h2>"));
  EXPECT_NE(page.find("<title>Fail: bank mower, nightly"), std::string::npos);
  EXPECT_EQ(occurrences(page, "<h1>"), 1);
}

TEST(ReportHtml, EveryCheckHasARowASectionAndALinkBetweenThem) {
  const auto page = report_html(mower_world().source());
  for (int i = 1; i <= 5; ++i) {
    EXPECT_EQ(occurrences(page, "href=\"#check-" + std::to_string(i) + "\""), 1);
    EXPECT_EQ(occurrences(page, " id=\"check-" + std::to_string(i) + "\""), 1);
  }
  EXPECT_NE(page.find("steering is lost where the spec asks for proportional"), std::string::npos);
  EXPECT_NE(page.find("rate below 0.06 % (95 %)"), std::string::npos);
}

TEST(ReportHtml, AFailureSaysWhatItIsConsistentWithLikeliestFirst) {
  const auto page = report_html(mower_world().source());
  EXPECT_NE(
      page.find(
          "<ol class=\"causes\"><li>Consistent with: each side clipped alone, so steering is lost at speed (explains all 169 readings "
          "within 8 µs).</li><li>Or with: an output limit"),
      std::string::npos);
  EXPECT_EQ(occurrences(page, "No known cause fits."), 1) << "signal-loss fails without one; checks that do not fail say nothing";
  EXPECT_EQ(occurrences(page, "class=\"causes\""), 2);
}

TEST(ReportHtml, ACheckThatWasNotRunIsMarkedSo) {
  const auto page = report_html(test::world_with_a_check_left_out().source());
  EXPECT_NE(page.find(">Not run<"), std::string::npos);
  EXPECT_NE(page.find("nobody is there to open a wire."), std::string::npos);
  EXPECT_EQ(report_html(test::mower_world().source()).find(">Not run<"), std::string::npos);
}

TEST(ReportHtml, ATableSaysWhereTheTimeWent) {
  const auto page = report_html(mower_world().source());
  const auto at = page.find("Where the time went");
  ASSERT_NE(at, std::string::npos);
  EXPECT_EQ(occurrences(page.substr(at), "20.0 %"), 5) << "five checks of a fifth each";
  EXPECT_NE(page.find("between checks", at), std::string::npos);
  EXPECT_EQ(report_html(test::empty_world().source()).find("Where the time went"), std::string::npos);
}

TEST(ReportHtml, IdsAreUniqueAndReferencesExist) {
  const auto page = report_html(mower_world().source());
  std::set<std::string> ids;
  const std::regex id(" id=\"([^\"]*)\"");
  for (std::sregex_iterator i(page.begin(), page.end(), id), end; i != end; ++i) EXPECT_TRUE(ids.insert((*i)[1]).second) << (*i)[1];
  const std::regex reference("(?:href=\"#|url\\(#)([^\")]*)");
  for (std::sregex_iterator i(page.begin(), page.end(), reference), end; i != end; ++i) EXPECT_EQ(ids.count((*i)[1]), 1U) << (*i)[1];
}

TEST(ReportHtml, EverySvgIsDescribedOrHidden) {
  const auto page = report_html(mower_world().source());
  EXPECT_EQ(occurrences(page, "<svg "), occurrences(page, "role=\"img\"") + occurrences(page, "aria-hidden=\"true\""));
  EXPECT_EQ(occurrences(page, "role=\"img\""), occurrences(page, "<desc "));
}

TEST(ReportHtml, TellsLossesCautionsAndWhatItDoesNotShow) {
  const auto page = report_html(mower_world().source());
  EXPECT_NE(page.find("2 board frames missing"), std::string::npos);
  EXPECT_NE(page.find("What this run does not show"), std::string::npos);
  EXPECT_NE(page.find("emulated"), std::string::npos);
  for (const char* caution : kCautions) EXPECT_NE(page.find(escape(caution)), std::string::npos) << caution;
}

TEST(ReportHtml, MicrosecondsAreShownWithTheMicroSign) {
  auto world = mower_world();
  world.result.checks[1].summary = "left is 8.0 us off";
  world.result.checks[1].pictures[0].y_label = "width, us";
  const auto page = report_html(world.source());
  EXPECT_NE(page.find("left is 8.0 µs off"), std::string::npos);
  EXPECT_NE(page.find(">width, µs</text>"), std::string::npos);
  EXPECT_EQ(page.find(" us<"), std::string::npos);
}

TEST(ReportHtml, SaysWhichWayTheBoardClockIsOff) {
  auto world = mower_world();
  world.capture.clock.ns_per_tick = 62.5 / (1 - 2.5e-6);
  EXPECT_NE(report_html(world.source()).find("slow by 2.5 ppm against"), std::string::npos);
}

TEST(ReportHtml, ATimeWhoseEndNeverCameIsNoReading) {
  const auto page = report_html(mower_world().source());
  EXPECT_NE(page.find("never within 1180.0 ms"), std::string::npos);
  EXPECT_EQ(page.find("1180.00"), std::string::npos);
}

TEST(ReportHtml, CutRunSaysSoAtTheTop) {
  const auto page = report_html(test::empty_world().source());
  EXPECT_LT(page.find("The run was cut short."), page.find("<main>"));
  EXPECT_NE(page.find("the bench fell silent before the first pulse"), std::string::npos);
}

TEST(ReportHtml, MarkupInNamesStaysText) {
  auto world = mower_world();
  world.plan.name = "<img onload=x>";
  world.result.checks[0].name = "</section><b>";
  world.result.checks[0].pictures[0].series[0].label = "<i>";
  world.result.checks[1].evidence[0].label = "\"><u>";
  world.capture.events[0].text = "<s>";
  const auto page = report_html(world.source());
  for (const char* tag : {"<img", "<b>", "<i>", "<u>", "<s>"}) EXPECT_EQ(page.find(tag), std::string::npos) << tag;
}

TEST(ReportHtml, LongRunWithManyPicturesAndSpansStaysUnderTwoMegabytes) {
  auto world = mower_world(240);
  auto big = world.result.checks[2];
  for (int i = 0; i < 3000; ++i)
    big.evidence.push_back({{i * 1'000'000LL}, {i * 1'000'000LL + 500'000}, "stretch", i % 3 == 0, {0, 1}, {0, 2}});
  for (int i = 0; i < 500; ++i) big.measures.push_back(big.measures[0]);
  auto& series = big.pictures[0].series;
  for (int i = 1; i < 8; ++i) series.push_back(series[0]);
  for (int i = 0; i < 7; ++i) big.pictures.push_back(big.pictures[0]);
  world.result.checks.assign(9, big);
  const auto page = report_html(world.source());
  EXPECT_LT(page.size(), kHtmlLimit);
  EXPECT_EQ(page.find("were left out"), std::string::npos);  // thinned, not dropped
}

TEST(ReportHtml, WhenThinningIsNotEnoughPlotsOfPassingChecksGoAndThePageSaysSo) {
  auto world = mower_world();
  auto& passing = world.result.checks[2];
  passing.pictures[0].series[0].x = {0, 1};
  passing.pictures[0].series[0].y = {20, 20};
  passing.pictures.assign(2000, passing.pictures[0]);
  const auto page = report_html(world.source());
  EXPECT_LT(page.size(), kHtmlLimit);
  EXPECT_NE(page.find("2000 plots of this check were left out"), std::string::npos);
  EXPECT_NE(page.find("Right output over the stick grid"), std::string::npos);  // of a check that failed: stays
}

TEST(ReportHtml, FailingSpansComeFirstWhenNotAllCanBeListed) {
  auto world = mower_world();
  auto& evidence = world.result.checks[1].evidence;
  evidence.assign(100, {{2'000'000}, {2'100'000}, "good", false, {0}, {0}});
  evidence.push_back({{2'000'000}, {2'100'000}, "the bad one", true, {0}, {0}});
  const auto page = report_html(world.source());
  EXPECT_NE(page.find("the bad one</th>"), std::string::npos);
  EXPECT_NE(page.find("89 more in report.json"), std::string::npos);
}

}  // namespace
}  // namespace midstick::report
