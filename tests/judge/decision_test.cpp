#include "daemon/judge/decision.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

namespace midstick::judge {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Decide, PassesOnlyWithTheWholeIntervalInside) {
  EXPECT_EQ(decide(4.0, -5, 5, 0.9), Verdict::pass);
  EXPECT_EQ(decide(4.0, -5, 5, 1.0), Verdict::pass);
  EXPECT_EQ(decide(4.0, -5, 5, 1.1), Verdict::inconclusive);
}

TEST(Decide, FailsOnlyWithTheWholeIntervalOutside) {
  EXPECT_EQ(decide(6.0, -5, 5, 0.9), Verdict::fail);
  EXPECT_EQ(decide(6.0, -5, 5, 1.1), Verdict::inconclusive);
  EXPECT_EQ(decide(-6.0, -5, 5, 0.9), Verdict::fail);
}

TEST(Decide, OneSidedLimitsIgnoreTheOtherSide) {
  EXPECT_EQ(decide(-1e9, {}, 5, 1), Verdict::pass);
  EXPECT_EQ(decide(1e9, -5, {}, 1), Verdict::pass);
}

TEST(Decide, NotANumberOrBoundlessUncertaintyIsInconclusive) {
  EXPECT_EQ(decide(kNan, -5, 5, 0), Verdict::inconclusive);
  EXPECT_EQ(decide(0, -5, 5, kNan), Verdict::inconclusive);
  EXPECT_EQ(decide(0, -5, 5, INFINITY), Verdict::inconclusive);
}

RC_GTEST_PROP(DecideProperties, MoreUncertaintyNeverTurnsOneVerdictIntoTheOther, (int measured, unsigned small, unsigned more)) {
  const double u = small % 1000, wider = u + more % 1000;
  const Verdict a = decide(measured % 1000, -100, 100, u), b = decide(measured % 1000, -100, 100, wider);
  RC_ASSERT(b == a || b == Verdict::inconclusive);
}

TEST(Measured, TooFewSamplesAreInconclusiveWhateverTheValue) {
  const Measure m = measure("x", 0, -5, 5, 0.1, "us", 9, 10);
  EXPECT_EQ(m.verdict, Verdict::inconclusive);
  EXPECT_EQ(m.note, "9 samples, 10 needed");
  EXPECT_EQ(measure("x", 99, -5, 5, 0.1, "us", 0).verdict, Verdict::inconclusive);
}

TEST(NoneAllowed, NoneSeenStatesTheBoundThatTheCountSupports) {
  const Measure m = none_allowed("outliers", 0, 1200, "pulses");
  EXPECT_EQ(m.verdict, Verdict::pass);
  EXPECT_EQ(m.note, "0 of 1200 pulses: rate below 0.25 % (none in n, 95 %, one-sided)");
}

TEST(NoneAllowed, OneSeenFailsAndStatesAnInterval) {
  const Measure m = none_allowed("outliers", 1, 29, "pulses");
  EXPECT_EQ(m.verdict, Verdict::fail);
  EXPECT_EQ(m.note, "1 of 29 pulses: rate 0.087 % to 18 % (Clopper-Pearson, 95 %)");  // Newcombe 1998, Table I: 0.0009 to 0.1776
}

TEST(NoneAllowed, NoneOfNothingIsNoPass) { EXPECT_EQ(none_allowed("outliers", 0, 0, "pulses").verdict, Verdict::inconclusive); }

TEST(NoneAllowed, WhatWasSeenFailsHoweverFewWereLookedAt) {
  EXPECT_EQ(none_allowed("runts", 1, 1, "power-ups", 50).verdict, Verdict::fail);
}

TEST(Overall, FailBeatsInconclusiveBeatsPass) {
  const Measure pass = measure("a", 0, -5, 5, 0, "us", 1), open = measure("b", 5, -5, 5, 1, "us", 1),
                fail = measure("c", 9, -5, 5, 0, "us", 1);
  EXPECT_EQ(overall({pass, pass}), Verdict::pass);
  EXPECT_EQ(overall({pass, open}), Verdict::inconclusive);
  EXPECT_EQ(overall({open, fail, pass}), Verdict::fail);
  EXPECT_EQ(overall({}), Verdict::inconclusive);
}

TEST(Headline, IsTheMeasureThatDecided) {
  const Measure near = measure("near", 4, -5, 5, 0, "us", 1), far = measure("far", 0, -5, 5, 0, "us", 1),
                open = measure("open", 5, -5, 5, 1, "us", 1), bad = measure("bad", 9, -5, 5, 0, "us", 1),
                worse = measure("worse", -30, -5, 5, 0, "us", 1);
  EXPECT_EQ(headline({far, near}), 1);
  EXPECT_EQ(headline({far, near, open}), 2);
  EXPECT_EQ(headline({open, bad, worse, far}), 2);
  EXPECT_EQ(headline({}), -1);
}

}  // namespace
}  // namespace midstick::judge
