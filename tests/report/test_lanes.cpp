// Lanes under a plot: blocks at the plot's own scale, names where there is room, everything in words.
#include <gtest/gtest.h>

#include <limits>
#include <regex>

#include "daemon/report/lanes.hpp"
#include "daemon/report/plot.hpp"

namespace midstick::report {
namespace {

judge::Picture picture() {
  judge::Picture p;
  p.title = "Power-up";
  p.x_label = "time, ms";
  p.y_label = "pulse width, us";
  judge::Series s;
  s.x = {0, 1000}, s.y = {1500, 1500};
  p.series = {s};
  p.lanes = {
      {"left ESC", {{0, 100, "waiting", false}, {100, 110, "arming", false}, {110, 600, "neutral", false}, {600, 1000, "learning", true}}}};
  return p;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++n;
  return n;
}

TEST(Lanes, EveryStateIsABlockAndTheDrawingGrows) {
  const auto with = plot_svg(picture(), "a", 100);
  auto bare = picture();
  bare.lanes.clear();
  EXPECT_EQ(count(with, "class=\"state\" x="), 4U);
  EXPECT_EQ(lanes_height(bare), 0);
  EXPECT_GT(lanes_height(picture()), 30);
  EXPECT_EQ(plot_svg(bare, "a", 100).find("class=\"state\""), std::string::npos);
}

TEST(Lanes, BlocksStandUnderThePlotAtItsScale) {
  const Scale x{{0, 1000, false}, 40, 440};
  const auto svg = lanes_svg(picture(), "a", x, 40, 440, 280);
  EXPECT_NE(svg.find("x=\"40\" y=\"297\" width=\"40\""), std::string::npos) << svg;
  EXPECT_NE(svg.find("x=\"280\" y=\"297\" width=\"160\""), std::string::npos) << svg;
}

TEST(Lanes, ANameThatDoesNotFitIsShortenedOrLeftOut) {
  const Scale x{{0, 1000, false}, 40, 440};
  const auto svg = lanes_svg(picture(), "a", x, 40, 440, 280);
  EXPECT_NE(svg.find(">neutral<"), std::string::npos);
  EXPECT_NE(svg.find(">wait<"), std::string::npos) << svg;
  EXPECT_EQ(svg.find(">ar"), std::string::npos) << "4 pixels";
}

TEST(Lanes, AFailingStateIsHatchedAndNotToldByColourAlone) {
  const auto svg = plot_svg(picture(), "a", 100);
  EXPECT_NE(svg.find("url(#a-hatch)"), std::string::npos);
  EXPECT_NE(svg.find("class=\"fails\">learning<"), std::string::npos);
}

TEST(Lanes, TheDescriptionAndThePageNameEveryState) {
  for (const auto& text : {plot_svg(picture(), "a", 100), lanes_html(picture())}) {
    EXPECT_NE(text.find("left ESC"), std::string::npos);
    for (const char* state : {"waiting 0", "arming 100", "neutral 110", "fails: learning 600"})
      EXPECT_NE(text.find(state), std::string::npos) << text;
  }
}

TEST(Lanes, ManyStatesAreCutInWordsAndStrangeOnesLeftOut) {
  auto p = picture();
  p.lanes[0].states.clear();
  for (int i = 0; i < 40; ++i) p.lanes[0].states.push_back({i * 10.0, i * 10.0 + 10, i % 2 ? "forward" : "neutral", false});
  EXPECT_NE(lanes_html(p).find("and 24 more"), std::string::npos);
  p.lanes[0].states = {{std::numeric_limits<double>::quiet_NaN(), 10, "lost", false}};
  EXPECT_EQ(plot_svg(p, "a", 100).find(">lost<"), std::string::npos);
  EXPECT_NE(lanes_html(p).find("nothing"), std::string::npos);
}

TEST(Lanes, LabelsAreEscaped) {
  auto p = picture();
  p.lanes[0].label = "<left>", p.lanes[0].states[2].label = "a<b";
  for (const auto& text : {plot_svg(p, "a", 100), lanes_html(p)}) EXPECT_EQ(text.find("<left>"), std::string::npos);
}

}  // namespace
}  // namespace midstick::report
