// A table learned from readings, written as a mixer file and read back, answers as the controller did that it was learned from.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "daemon/mixer/learn_table.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/script/readers.hpp"
#include "daemon/script/write_mixer.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

const char* const kGoodController = R"({"format": "midstick mixer 1", "name": "good one",
  "throttle": {"input": "throttle", "dead_band": {"kind": "continuous", "half_width_us": 25}},
  "steering": {"input": "steering", "dead_band": {"kind": "continuous", "half_width_us": 25}, "expo": 0.3, "reversed": true},
  "mix": {"law": "blend", "blend": 0.8}, "left": {"output": "left", "trim_us": 3}, "right": {"output": "right", "reversed": true}})";

mixer::MixerSpec read(const json& file) {
  auto checked = check_value(file, "f", FileKind::mixer);
  EXPECT_TRUE(checked) << checked.error().message;
  const auto spec = read_mixer(checked->source);
  EXPECT_TRUE(spec) << spec.error().message;
  return spec.value();
}

double normalised(const mixer::InputSpec& in, double us) {
  const double x = (us - in.centre_us) / 500;
  return in.reversed ? -x : x;
}

std::vector<mixer::LearnedPoint> readings_of(const mixer::MixerSpec& good, double step_us) {
  std::vector<mixer::LearnedPoint> points;
  for (double t = 1000; t <= 2000; t += step_us)
    for (double s = 1000; s <= 2000; s += step_us) {
      const auto us = mixer::expected(good, t, s);
      points.push_back({normalised(good.throttle, t), normalised(good.steering, s), us.left_us, us.right_us});
    }
  std::shuffle(points.begin(), points.end(), std::mt19937(3));
  return points;
}

TEST(LearnedTable, AnswersAsItsTeacherThroughAFile) {
  const json file = json::parse(kGoodController);
  const auto good = read(file);
  const auto table = mixer::learn_table(readings_of(good, 25));
  ASSERT_TRUE(table) << table.error().message;
  const auto learned = read(with_table(file, *table));
  ASSERT_EQ(learned.law, mixer::Law::table);
  for (double t = 1000; t <= 2000; t += 25)
    for (double s = 1000; s <= 2000; s += 25) {
      const auto a = mixer::expected(good, t, s), b = mixer::expected(learned, t, s);
      EXPECT_NEAR(a.left_us, b.left_us, 0.2) << t << ' ' << s;
      EXPECT_NEAR(a.right_us, b.right_us, 0.2) << t << ' ' << s;
    }
  for (double t = 1003; t <= 2000; t += 41)
    for (double s = 1007; s <= 2000; s += 37) {
      const auto a = mixer::expected(good, t, s), b = mixer::expected(learned, t, s);
      EXPECT_NEAR(a.left_us, b.left_us, 10) << "between the readings, at " << t << ' ' << s;
      EXPECT_NEAR(a.right_us, b.right_us, 10) << "between the readings, at " << t << ' ' << s;
    }
}

TEST(LearnedTable, ReadingsOfOnePositionAreAveraged) {
  std::vector<mixer::LearnedPoint> points;
  for (const double t : {-1.0, 1.0})
    for (const double s : {-1.0, 1.0}) points.push_back({t, s, 1500, 1500});
  points.push_back({0.998, 1, 1506, 1494});
  const auto table = mixer::learn_table(points);
  ASSERT_TRUE(table) << table.error().message;
  EXPECT_EQ(table->throttle.size(), 2u);
  EXPECT_DOUBLE_EQ(table->left[1][1], 1503);
  EXPECT_DOUBLE_EQ(table->right[1][1], 1497);
}

TEST(LearnedTable, AHoleInTheGridIsNamed) {
  std::vector<mixer::LearnedPoint> points;
  for (const double t : {-0.5, 0.5})
    for (const double s : {-0.25, 0.75})
      if (t < 0 || s < 0) points.push_back({t, s, 1500, 1500});
  const auto table = mixer::learn_table(points);
  ASSERT_FALSE(table);
  EXPECT_EQ(table.error().message, "found no reading at throttle 50 %, steering 75 %; expected one at every combination");
}

TEST(LearnedTable, OneLineIsNoGrid) {
  const std::vector<mixer::LearnedPoint> points{{-1, 0, 1000, 1000}, {1, 0, 2000, 2000}};
  const auto table = mixer::learn_table(points);
  ASSERT_FALSE(table);
  EXPECT_NE(table.error().message.find("2 throttle and 1 steering positions"), std::string::npos);
}

}  // namespace
}  // namespace midstick::script
