#include "daemon/judge/pulses.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace midstick::judge {
namespace {

using capture::Edge;

/// Edges of line 3 from {time, level}.
std::vector<Edge> edges(std::initializer_list<std::pair<std::int64_t, bool>> list) {
  std::vector<Edge> all;
  for (const auto& [at, level] : list) all.push_back({{at}, 3, level, 1, false});
  return all;
}

PulseTrain train(const std::vector<Edge>& all) { return PulseTrain(all, 3, {0}, {1'000'000}); }

TEST(PulseTrain, RiseAndFallMakeAPulse) {
  const auto t = train(edges({{100, true}, {24100, false}, {320000, true}, {344000, false}}));
  ASSERT_EQ(t.all().size(), 2u);
  EXPECT_EQ(t.all()[0].width().count, 24000);
  EXPECT_EQ(t.all()[1].rise.count, 320000);
}

TEST(PulseTrain, OtherLinesAreIgnored) {
  auto all = edges({{100, true}, {24100, false}});
  all.insert(all.begin() + 1, Edge{{500}, 2, true, 1, false});
  EXPECT_EQ(train(all).all().size(), 1u);
}

TEST(PulseTrain, RuntsAreKept) { EXPECT_EQ(train(edges({{100, true}, {101, false}})).all().front().width().count, 1); }

TEST(PulseTrain, LineThatBeganHighKeepsItsFall) {
  const auto t = train(edges({{100, false}, {5000, true}, {29000, false}}));
  EXPECT_TRUE(t.began_high());
  EXPECT_EQ(t.all().size(), 1u);
  EXPECT_EQ(t.broken(), 0);
}

TEST(PulseTrain, LineThatEndsHighIsOpen) {
  const auto t = train(edges({{100, true}}));
  ASSERT_TRUE(t.open_rise());
  EXPECT_EQ(t.open_rise()->count, 100);
  EXPECT_TRUE(t.all().empty());
}

TEST(PulseTrain, RepeatedLevelMeansAnEdgeIsMissing) {
  EXPECT_EQ(train(edges({{100, true}, {200, true}, {300, false}})).broken(), 1);
  EXPECT_EQ(train(edges({{100, true}, {200, false}, {300, false}})).broken(), 1);
}

TEST(PulseTrain, SilenceIsNoPulse) {
  const auto t = train({});
  EXPECT_TRUE(t.all().empty());
  EXPECT_EQ(t.last_fallen({500}), nullptr);
  EXPECT_FALSE(t.high_at({500}));
}

TEST(PulseTrain, BoundsOfBothStampsAreKept) {
  const std::vector<Edge> all{{{100}, 3, true, 8, false}, {{24100}, 3, false, 60, true}};
  const Pulse p = train(all).all().front();
  EXPECT_EQ(p.rise_half, 8);
  EXPECT_EQ(p.fall_half, 60);
  EXPECT_TRUE(p.crowded);
}

TEST(PulseTrain, FindsByTime) {
  const auto t = train(edges({{100, true}, {200, false}, {300, true}, {400, false}, {500, true}, {600, false}}));
  EXPECT_EQ(t.within({150}, {600}).size(), 2u);
  EXPECT_EQ(t.within({100}, {599}).size(), 2u);
  EXPECT_EQ(t.falling_in({200}, {600}).size(), 2u) << "a fall at the start belongs to the stretch before";
  EXPECT_EQ(t.last_fallen({399})->fall.count, 200);
  EXPECT_EQ(t.last_fallen({400})->fall.count, 400);
  EXPECT_TRUE(t.high_at({350}));
  EXPECT_FALSE(t.high_at({450}));
}

RC_GTEST_PROP(PulseTrainProperties, AgreesWithASlowReadingOfTheLevels, ()) {
  const auto gaps = *rc::gen::container<std::vector<int>>(rc::gen::inRange(1, 50));
  std::vector<Edge> all;
  std::int64_t at = 0;
  bool level = *rc::gen::arbitrary<bool>();
  for (const int g : gaps) all.push_back({{at += g}, 3, level = !level, 1, false});
  const auto t = train(all);
  const std::int64_t probe = *rc::gen::inRange<std::int64_t>(0, 3000);
  bool high = !all.empty() && !all.front().level && probe < all.front().at.count;
  for (const Edge& e : all)
    if (e.at.count <= probe) high = e.level;
  // A line that began high has no rise to be found by; all else is exact.
  if (t.began_high() && !all.empty() && probe < all.front().at.count) return;
  RC_ASSERT(t.high_at({probe}) == high);
  RC_ASSERT(t.broken() == 0);
}

TEST(EdgesWithin, KeepsBothEnds) {
  const auto all = edges({{100, true}, {200, false}, {300, true}});
  EXPECT_EQ(edges_within(all, {100}, {300}).size(), 3u);
  EXPECT_EQ(edges_within(all, {101}, {299}).size(), 1u);
}

}  // namespace
}  // namespace midstick::judge
