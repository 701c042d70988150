#include "daemon/judge/text.hpp"

#include <gtest/gtest.h>

namespace midstick::judge {
namespace {

TEST(Text, RatesKeepTwoDigits) {
  EXPECT_EQ(percent_text(0.0025), "0.25 %");
  EXPECT_EQ(percent_text(0.393), "39 %");
  EXPECT_EQ(percent_text(0.00003), "0.0030 %");
  EXPECT_EQ(percent_text(0), "0 %");
}

TEST(Text, NoMinusZero) {
  EXPECT_EQ(num(-0.04, 1), "0.0");
  EXPECT_EQ(num(-0.06, 1), "-0.1");
}

}  // namespace
}  // namespace midstick::judge
