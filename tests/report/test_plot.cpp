#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "daemon/report/axis.hpp"
#include "daemon/report/plot.hpp"
#include "daemon/report/pulse_strip.hpp"
#include "daemon/report/thin.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

Range range(double low, double high) { return {low, high, false}; }

TEST(AxisTicks, StepsAreOneTwoOrFiveTimesAPowerOfTen) {
  EXPECT_EQ(nice_ticks(range(1000, 2000), 5).at, (std::vector<double>{1000, 1200, 1400, 1600, 1800, 2000}));
  EXPECT_DOUBLE_EQ(nice_ticks(range(0, 2.4), 5).step, 0.5);
  EXPECT_DOUBLE_EQ(nice_ticks(range(-1e-3, 1e-3), 5).step, 5e-4);
  std::mt19937 random(11);
  for (int i = 0; i < 1000; ++i) {
    // One draw a statement: the order of arguments is the compiler's choice, and the ranges must be the same everywhere.
    const double low_digits = static_cast<double>(random() % 2000) - 1000;
    const int low_scale = static_cast<int>(random() % 40) - 20;
    const auto length_digits = static_cast<double>(random() % 1000 + 1);
    const int length_scale = static_cast<int>(random() % 40) - 20;
    const double from = std::ldexp(low_digits, low_scale);
    const auto r = widened(range(from, from + std::ldexp(length_digits, length_scale)), 0);
    const auto ticks = nice_ticks(r, 6);
    const double digit = ticks.step / std::pow(10.0, std::floor(std::log10(ticks.step) + 1e-9));
    EXPECT_TRUE(std::abs(digit - 1) < 1e-6 || std::abs(digit - 2) < 1e-6 || std::abs(digit - 5) < 1e-6) << ticks.step;
    EXPECT_GE(ticks.at.size(), 2U) << r.low << " " << r.high;
    EXPECT_LE(ticks.at.size(), 13U);
    for (const double t : ticks.at)
      EXPECT_TRUE(t >= r.low - ticks.step * 1e-5 && t <= r.high + ticks.step * 1e-5) << t;  // a range is at least 1e-9 of its values long
  }
}

TEST(AxisTicks, LabelsHaveTheDecimalsTheirStepNeeds) {
  EXPECT_EQ(tick_label(1500, 100), "1500");
  EXPECT_EQ(tick_label(0.5, 0.1), "0.5");
  EXPECT_EQ(tick_label(20.005, 0.005), "20.005");
  EXPECT_EQ(tick_label(-1e-17, 0.5), "0.0");
}

TEST(AxisRange, WithoutLengthOrDataStillHasATick) {
  EXPECT_GE(nice_ticks(widened(Range{}, 0.1), 5).at.size(), 1U);
  Range one;
  one.add(1500);
  one.add(kNaN);
  EXPECT_GE(nice_ticks(widened(one, 0.1), 5).at.size(), 2U);
  EXPECT_LT(widened(one, 0.1).low, 1500);
}

TEST(ThinLine, KeepsEveryOutlier) {
  std::vector<Point> points;
  for (int i = 0; i < 100'000; ++i) points.push_back({i * 0.004, 100});
  points[31'415].y = 7;
  points[31'416].y = 180;
  const auto thin = thin_line(points, 400);
  EXPECT_LE(thin.size(), 401U * 6);
  double low = 1e9;
  double high = -1e9;
  for (const auto& p : thin) {
    low = std::min(low, p.y);
    high = std::max(high, p.y);
  }
  EXPECT_EQ(low, 7);
  EXPECT_EQ(high, 180);
  EXPECT_EQ(thin.front().x, points.front().x);
  EXPECT_EQ(thin.back().x, points.back().x);
}

TEST(ThinLine, KeepsVisibleBreaksAndStaysBoundedWhenEveryOtherPointIsOne) {
  std::vector<Point> points;
  for (int i = 0; i < 100'000; ++i) points.push_back(i % 2 == 0 ? Point{i * 0.004, 5} : Point{kNaN, kNaN});
  EXPECT_LE(thin_line(points, 400).size(), 401U * 7);
  std::vector<Point> gap{{0, 1}, {1, 1}, {kNaN, kNaN}, {300, 1}, {301, 1}};
  int breaks = 0;
  for (const auto& p : thin_line(gap, 3)) breaks += !p.drawn();
  EXPECT_EQ(breaks, 1);
}

TEST(ThinLine, LineThatGoesBackAndForthIsBoundedToo) {
  std::vector<Point> points;
  for (int i = 0; i < 100'000; ++i) points.push_back({std::sin(i * 0.01) * 200, static_cast<double>(i % 100)});
  points[777] = {999, 999};
  const auto thin = thin_line(points, 100);
  EXPECT_LE(thin.size(), 101U * 6);
  EXPECT_EQ(std::count_if(thin.begin(), thin.end(), [](const Point& p) { return p.y == 999; }), 1);
}

TEST(ThinDots, DotsOnTopOfOneAnotherAreDrawnOnce) {
  std::vector<Point> points(1000, Point{10, 10});
  points.push_back({50, 50});
  points.push_back({kNaN, 1});
  EXPECT_EQ(thin_dots(points, 1).size(), 2U);
}

judge::Picture picture() {
  judge::Picture p{"Title <1>", "time, s", "width, µs", {}, {{1, 2, "too wide", true}}, {}};
  p.series = {{judge::Series::Style::line, judge::Series::Role::measured, "left", {0, 1, 2}, {1500, 1600, 1500}}};
  return p;
}

TEST(Plot, HasATitleADescriptionAndMarksTheFailingBandInWordsAndShape) {
  const auto svg = plot_svg(picture(), "p1", 100);
  EXPECT_NE(svg.find("aria-labelledby=\"p1-t p1-d\""), std::string::npos);
  EXPECT_NE(svg.find("<title id=\"p1-t\">Title &lt;1&gt;</title>"), std::string::npos);
  EXPECT_NE(svg.find("Fails: too wide: from 1.00 to 2.00."), std::string::npos) << svg;
  EXPECT_NE(svg.find(">fails: too wide</text>"), std::string::npos);
  EXPECT_NE(svg.find("url(#p1-hatch)"), std::string::npos);
}

TEST(Plot, LabelOfANarrowBandIsWholeWhereNothingIsBesideIt) {
  judge::Picture p{"Outputs", "time, ms", "width, us", {}, {{0, 4, "not judged", false}, {900, 930, "dead band", false}}, {}};
  p.series = {{judge::Series::Style::line, judge::Series::Role::measured, "left", {0, 1000}, {1500, 1501}}};
  const auto svg = plot_svg(p, "p", 100);
  EXPECT_NE(svg.find(">not judged</text>"), std::string::npos) << svg;
  EXPECT_NE(svg.find(">dead band</text>"), std::string::npos) << svg;
}

TEST(Plot, NothingToDrawIsSaidInWords) {
  auto p = picture();
  p.series[0].y = {kNaN, kNaN, std::numeric_limits<double>::infinity()};
  const auto svg = plot_svg(p, "p1", 100);
  EXPECT_NE(svg.find("nothing was measured"), std::string::npos);
  EXPECT_EQ(svg.find("nan"), std::string::npos);
  EXPECT_EQ(svg.find("inf"), std::string::npos);
}

TEST(Plot, OneOutlierInAMillionPointsIsStillDrawn) {
  auto p = picture();
  p.bands.clear();
  auto& s = p.series[0];
  s.x.clear();
  s.y.clear();
  for (int i = 0; i < 1'000'000; ++i) {
    s.x.push_back(i);
    s.y.push_back(i == 654'321 ? 2000 : 1500);
  }
  const auto svg = plot_svg(p, "p1", 380);
  EXPECT_LT(svg.size(), 60'000U);
  // 2000 is the top of the data: 6 % of 500 below the frame's top at 24 on a height of 212.
  EXPECT_NE(svg.find(" 35.4L"), std::string::npos);
}

TEST(Plot, DotsAreThinnedWithTheDetailAndKeepALoneOutlier) {
  auto p = picture();
  p.bands.clear();
  auto& s = p.series[0];
  s.style = judge::Series::Style::dots;
  s.x.clear();
  s.y.clear();
  for (int i = 0; i < 200'000; ++i) {
    s.x.push_back(i);
    s.y.push_back(i == 123'456 ? 2000 : 1500 + i % 97);
  }
  const auto coarse = plot_svg(p, "p1", 40);
  EXPECT_LT(coarse.size() * 3, plot_svg(p, "p1", 380).size());
  EXPECT_NE(coarse.find(" 35.4h0"), std::string::npos);
}

TEST(PulseStrip, RuntThinnerThanAPixelIsDrawnAsASpike) {
  auto world = test::empty_world();
  world.plan.controller.outputs = {{"left", "R1", 0, 0, 0}};
  test::add_pulses(world.capture.response, 0, 320'000, 0, 16, 1);  // 1 us in 60 ms
  const judge::Span span{{320'000}, {640'000}, "runt", true, {}, {0}};
  const auto strips = strips_of(span, world.capture, world.plan.controller);
  ASSERT_EQ(strips.size(), 1U);
  const auto svg = strip_svg(strips[0], world.capture, world.plan.controller, "s1");
  // Lane 0 lies from 32: high is 52, low is 74. 20 ms of 60 ms: a third of the way from 92 to 430.
  EXPECT_NE(svg.find("M92 74H204.7V52V52V74"), std::string::npos) << svg;
  EXPECT_NE(svg.find(">1.0</text>"), std::string::npos);  // its width in us
  EXPECT_NE(svg.find(">fails: runt</text>"), std::string::npos);
}

TEST(PulseStrip, LongFailingStretchIsShownWholeAndAtItsBeginning) {
  const auto world = test::mower_world();
  const auto& span = world.result.checks[3].evidence[0];
  const auto strips = strips_of(span, world.capture, world.plan.controller);
  ASSERT_EQ(strips.size(), 2U);
  EXPECT_LT(strips[0].begin, span.begin);
  EXPECT_GT(strips[0].end, span.end);
  EXPECT_LT(strips[1].end, span.end);
}

TEST(PulseStrip, SizeHasABoundHoweverManyEdges) {
  auto world = test::empty_world();
  test::add_pulses(world.capture.response, 0, 0, 40'000, 16'000, 200'000);
  const judge::Span span{{0}, {8'000'000'000}, "all", true, {}, {0}};
  const auto strips = strips_of(span, world.capture, world.plan.controller);
  EXPECT_LT(strip_svg(strips[0], world.capture, world.plan.controller, "s1").size(), 40'000U);
}

TEST(PulseStrip, SpanWithoutLinesShowsAllOfTheController) {
  const auto world = test::mower_world();
  const auto strips = strips_of({{2'000'000}, {2'100'000}, "", false, {}, {}}, world.capture, world.plan.controller);
  EXPECT_EQ(strips[0].stimulus_lines, (std::vector<std::uint8_t>{0, 1}));
  EXPECT_EQ(strips[0].response_lines, (std::vector<std::uint8_t>{0, 2}));
}

}  // namespace
}  // namespace midstick::report
