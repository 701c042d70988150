// Colours of the page against WCAG 2.1 (W3C Recommendation, 2018): text at least 4.5 to 1 (1.4.3), lines that carry meaning 3 to 1
// (1.4.11). Formula of relative luminance from its definitions section (from memory).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <regex>

#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using Palette = std::map<std::string, std::string>;

/// Palettes of the style sheet in their order: light, dark, print.
std::vector<Palette> palettes() {
  const auto css = test::read_text(MIDSTICK_REPORT_CSS);
  std::vector<Palette> found;
  const std::regex root(":root \\{([^}]*)\\}");
  const std::regex colour("--([a-z0-9]+): (#[0-9a-f]{3,6});");
  for (std::sregex_iterator r(css.begin(), css.end(), root), end; r != end; ++r) {
    const std::string body = (*r)[1];
    Palette palette;
    for (std::sregex_iterator c(body.begin(), body.end(), colour); c != end; ++c) palette[(*c)[1]] = (*c)[2];
    found.push_back(palette);
  }
  return found;
}

double luminance(const std::string& colour) {
  const bool is_short = colour.size() == 4;
  double sum = 0;
  const double weights[] = {0.2126, 0.7152, 0.0722};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto hex = is_short ? std::string(2, colour[1 + i]) : colour.substr(1 + 2 * i, 2);
    const double c = std::stoi(hex, nullptr, 16) / 255.0;
    sum += weights[i] * (c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4));
  }
  return sum;
}

double contrast(const std::string& a, const std::string& b) {
  const auto [low, high] = std::minmax({luminance(a), luminance(b)});
  return (high + 0.05) / (low + 0.05);
}

TEST(PageColours, FormulaGivesTheKnownEnds) {
  EXPECT_NEAR(contrast("#fff", "#000000"), 21, 1e-9);
  EXPECT_NEAR(contrast("#777777", "#ffffff"), 4.48, 0.005);  // the well-known grey that just misses
}

TEST(PageColours, TextAndLinesHaveContrastInLightDarkAndPrint) {
  const auto all = palettes();
  ASSERT_EQ(all.size(), 3U);
  for (const auto& palette : all) {
    ASSERT_EQ(palette.size(), all[0].size());
    for (const char* ground : {"paper", "card"}) {
      for (const char* text : {"ink", "soft", "pass", "fail", "maybe", "link"})
        EXPECT_GE(contrast(palette.at(text), palette.at(ground)), 4.5) << text << " on " << ground << " " << palette.at(ground);
      for (const char* line : {"m0", "m1", "m2", "m3", "want", "limit", "in"})
        EXPECT_GE(contrast(palette.at(line), palette.at(ground)), 3.0) << line << " on " << ground << " " << palette.at(ground);
    }
    EXPECT_GE(contrast(palette.at("soft"), palette.at("band")), 4.5);  // labels in a band
    for (const char* line : {"m0", "m1", "m2", "m3", "want"})
      EXPECT_GE(contrast(palette.at(line), palette.at("band")), 2.5) << line << " in a band";
  }
}

}  // namespace
}  // namespace midstick::report
