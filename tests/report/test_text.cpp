#include <gtest/gtest.h>

#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

TEST(Text, MarkupIsEscapedForTagsAndAttributes) {
  EXPECT_EQ(escape("<b a=\"1\" c='2'> & </b>"), "&lt;b a=&quot;1&quot; c=&#39;2&#39;&gt; &amp; &lt;/b&gt;");
}

TEST(Text, ControlCharactersBecomeTheirPictures) {
  EXPECT_EQ(escape(std::string("a\x1b[31m\0b", 8)), "a␛[31m␀b");
  EXPECT_EQ(visible("a\x7f", false), "a␡");
}

TEST(Text, LineFeedsSurviveEscapingButNotInOneLineText) {
  EXPECT_EQ(escape("a\nb\tc"), "a&#10;b&#9;c");
  EXPECT_EQ(visible("a\r\nb", false), "a  b");
}

TEST(Text, BrokenUtf8BecomesTheReplacementCharacter) {
  EXPECT_EQ(visible("\xC3", false), "\uFFFD");                                // cut short
  EXPECT_EQ(visible("\xC0\xAF", false), "\uFFFD\uFFFD");                      // overlong
  EXPECT_EQ(visible("\xED\xA0\x80", false), "\uFFFD\uFFFD\uFFFD");            // surrogate
  EXPECT_EQ(visible("\xF4\x90\x80\x80", false).substr(0, 3), "\uFFFD");       // past the last code point
  EXPECT_EQ(visible("\xEF\xBF\xBF", false), "\uFFFD");                        // U+FFFF is not allowed in XML
  EXPECT_EQ(visible("µ ± \xF0\x9F\x9A\x9C", false), "µ ± \xF0\x9F\x9A\x9C");  // and good UTF-8 stays
}

TEST(Text, MicrosecondsGetTheirSignOnlyWhereTheyStandAlone) {
  EXPECT_EQ(with_micro_sign("8.0 us; width, us (us) virus us_x thus us"), "8.0 µs; width, µs (µs) virus us_x thus µs");
}

TEST(Text, PlusMinusGetsItsSignBeforeANumber) {
  EXPECT_EQ(with_micro_sign("late by +0.5 us, +-4.00 us, +- 3 ppm, a+-b, +-"), "late by +0.5 µs, ±4.00 µs, ± 3 ppm, a+-b, +-");
}

TEST(Text, AsciiKeepsTheMeaningOfUnitsAndSigns) {
  EXPECT_EQ(ascii("1500 ± 0.25 µs → “ok” …"), "1500 +- 0.25 us -> \"ok\" ...");
  EXPECT_EQ(ascii("Böschung"), "B?schung");
}

}  // namespace
}  // namespace midstick::report
