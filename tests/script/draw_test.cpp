// Seeded draws: the engine is the one the standard fixes, the mapping is ours.
#include <gtest/gtest.h>

#include "daemon/script/draw.hpp"

namespace midstick::script {
namespace {

// ISO/IEC 14882:2020 [rand.predef]: the 10000th consecutive invocation of a default-constructed mt19937_64 is 9981545732273789042.
TEST(Draw, EngineIsTheStandardsTwister) {
  Draw draw(std::mt19937_64::default_seed);
  for (int i = 1; i < 10000; ++i) draw.within(0, 1);
  EXPECT_EQ(draw.within(0, (std::int64_t{1} << 62) - 1), static_cast<std::int64_t>(9981545732273789042ULL % (1ULL << 62)));
}

TEST(Draw, BothEndsAreDrawn) {
  Draw draw(1);
  bool low = false, high = false;
  for (int i = 0; i < 200; ++i) {
    const auto x = draw.within(-3, 3);
    ASSERT_GE(x, -3);
    ASSERT_LE(x, 3);
    low = low || x == -3;
    high = high || x == 3;
  }
  EXPECT_TRUE(low && high);
  EXPECT_EQ(draw.within(7, 7), 7);
}

TEST(Draw, MixedSeedsDifferByEitherPart) {
  EXPECT_NE(mixed(1, 2), mixed(2, 1));
  EXPECT_NE(mixed(1, 2), mixed(1, 3));
  EXPECT_NE(mixed(0, 0), 0u);
}

}  // namespace
}  // namespace midstick::script
