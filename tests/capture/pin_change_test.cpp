#include "daemon/capture/pin_change.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>

namespace midstick::capture {
namespace {

protocol::Hello board() {
  protocol::Hello hello{};
  hello.capture_lines = 2;
  hello.pin_change_lines = 6;
  hello.pin_change_half = 8;
  hello.pin_change_crowded = 64;
  return hello;
}
Edge at(std::int64_t tick, std::uint8_t line) { return {{tick}, line, true, 1, false}; }

TEST(PinChange, LoneEdgeHasTheBoardsLoneBound) {
  std::vector<Edge> response{at(10'000, 2), at(20'000, 3)};
  bound_pin_changes({}, response, board());
  for (const auto& edge : response) {
    EXPECT_FALSE(edge.crowded);
    EXPECT_EQ(edge.half_width, 8);
  }
}

TEST(PinChange, EdgeOnAnyOtherLineShortlyBeforeCrowdsIt) {
  for (std::uint8_t line : {0, 1, 2, 7}) {
    std::vector<Edge> response{at(10'000, line), at(10'150, 4)};
    bound_pin_changes({}, response, board());
    EXPECT_TRUE(response[1].crowded) << int{line};
    EXPECT_EQ(response[1].half_width, 64);
    EXPECT_FALSE(response[0].crowded) << "the first of two is not late";
  }
}

TEST(PinChange, StimulusEdgeShortlyBeforeCrowdsIt) {
  std::vector<Edge> response{at(10'150, 4)};
  bound_pin_changes({at(500, 0), at(10'000, 0), at(99'000, 0)}, response, board());
  EXPECT_TRUE(response[0].crowded);
}

TEST(PinChange, StimulusEdgeAfterwardsDoesNot) {
  std::vector<Edge> response{at(10'000, 4)};
  bound_pin_changes({at(10'001, 0)}, response, board());
  EXPECT_FALSE(response[0].crowded);
}

TEST(PinChange, EdgesStampedAlikeCrowdEachOther) {
  std::vector<Edge> response{at(10'000, 2), at(10'000, 3)};
  bound_pin_changes({}, response, board());
  EXPECT_TRUE(response[0].crowded && response[1].crowded);
}

TEST(PinChange, ReachAllowsForTheStampItselfBeingLate) {
  std::vector<Edge> response{at(10'000, 2), at(10'000 + 160 + 64, 3)};
  bound_pin_changes({}, response, board());
  EXPECT_TRUE(response[1].crowded);
  response = {at(10'000, 2), at(10'000 + 160 + 65, 3)};
  bound_pin_changes({}, response, board());
  EXPECT_FALSE(response[1].crowded);
}

TEST(PinChange, InputCaptureIsLeftAlone) {
  std::vector<Edge> response{at(10'000, 2), at(10'001, 0), at(10'002, 1)};
  bound_pin_changes({at(9'999, 0)}, response, board());
  EXPECT_EQ(response[1], at(10'001, 0));
  EXPECT_EQ(response[2], at(10'002, 1));
}

TEST(PinChange, BoardsOwnFlagStays) {
  std::vector<Edge> response{{{10'000}, 5, true, 1, true}};
  bound_pin_changes({}, response, board());
  EXPECT_TRUE(response[0].crowded);
  EXPECT_EQ(response[0].half_width, 64);
}

TEST(PinChange, AgreesWithTheDefinitionEdgeByEdge) {
  const bool held = rc::check("sweep equals definition", [] {
    const auto some = [](int most, int lines) {
      std::vector<Edge> edges;
      std::int64_t tick = 0;
      for (int i = *rc::gen::inRange(0, most); i > 0; --i) {
        tick += *rc::gen::inRange(0, 400);
        edges.push_back(at(tick, static_cast<std::uint8_t>(*rc::gen::inRange(0, lines))));
      }
      return edges;
    };
    const auto stimulus = some(30, 6), before = some(60, 8);
    auto after = before;
    bound_pin_changes(stimulus, after, board());
    for (std::size_t i = 0; i < after.size(); ++i) {
      const auto near = [&](const Edge& other) {
        const auto distance = (before[i].at - other.at).count;
        return distance >= 0 && distance <= 160 + 64;
      };
      bool crowded = std::any_of(stimulus.begin(), stimulus.end(), near);
      for (std::size_t k = 0; k < before.size(); ++k) crowded = crowded || (k != i && near(before[k]));
      RC_ASSERT(after[i].crowded == (crowded && before[i].line >= 2));
    }
  });
  EXPECT_TRUE(held);
}

}  // namespace
}  // namespace midstick::capture
