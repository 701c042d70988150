// The calibration file is exact both ways, refuses what is not one with file, place and what was expected, and fits its published schema.
#include "daemon/store/calibration_file.hpp"

#include <gtest/gtest.h>
#include <rapidjson/document.h>
#include <rapidjson/schema.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace midstick::store {
namespace {

using nlohmann::json;

capture::Calibration small() {
  capture::Calibration c;
  c.board = "bench \"2\"";
  c.date = "2026-03-01T10:00:00Z";
  c.valid_days = 90;
  c.firmware = "1.0";
  c.schema_hash = "00c0ffee";
  c.supply_mv = 4980;
  c.clock_ppm = -1234.56789;
  c.clock_uncertainty_ppm = 0.7;
  c.stimulus_late = {0.125, -0.1};
  c.response_late = {3.1, 2.9, -4.0 / 3};
  c.lone_half = 8;
  c.pin_change = {{-5, 3}, {0, 1'000'000}, {7, 1}};
  return c;
}

bool fits_schema(const std::string& text) {
  std::ifstream in(MIDSTICK_SOURCE "/daemon/store/schema/calibration.schema.json");
  std::ostringstream schema_text;
  schema_text << in.rdbuf();
  rapidjson::Document schema, document;
  if (schema.Parse(schema_text.str().c_str()).HasParseError()) return ADD_FAILURE() << "the schema is not JSON", false;
  document.Parse(text.c_str());
  const rapidjson::SchemaDocument compiled(schema);
  rapidjson::SchemaValidator validator(compiled);
  return document.Accept(validator);
}

/// The error for a file in which `pointer` holds `value`.
std::string error_with(const std::string& pointer, const json& value) {
  json j = json::parse(calibration_to_json(small()));
  j[json::json_pointer(pointer)] = value;
  const auto read = calibration_from_json(j.dump(), "c.json");
  EXPECT_FALSE(read.ok()) << pointer;
  EXPECT_FALSE(fits_schema(j.dump())) << pointer << ": the schema lets through what the reader refuses";
  return read.ok() ? "" : read.error().message;
}

TEST(CalibrationFile, RoundTripIsExact) {
  const auto read = calibration_from_json(calibration_to_json(small()), "c.json");
  ASSERT_TRUE(read.ok()) << read.error().message;
  EXPECT_EQ(read.value(), small());
}

TEST(CalibrationFile, FitsItsSchema) { EXPECT_TRUE(fits_schema(calibration_to_json(small()))); }

TEST(CalibrationFile, ErrorsNameFilePlaceAndWhatWasExpected) {
  EXPECT_EQ(error_with("/format", "midstick calibration 9"),
            "c.json: /format: found \"midstick calibration 9\"; expected \"midstick calibration 1\"");
  EXPECT_EQ(error_with("/valid_days", 0), "c.json: /valid_days: found 0; expected a whole number, 1 to 3650");
  EXPECT_NE(error_with("/response_late_ticks/2", "fast").find("c.json: /response_late_ticks/2: found \"fast\""), std::string::npos);
  EXPECT_NE(error_with("/response_late_ticks", json::array({1, 2})).find("a list of 8 values"), std::string::npos);
  EXPECT_NE(error_with("/pin_change_delays/1", json::array({1, 0})).find("/pin_change_delays/1/1"), std::string::npos);
  EXPECT_NE(error_with("/board", 7).find("expected text"), std::string::npos);
}

TEST(CalibrationFile, DelaysOutOfOrderAreRefused) {
  json j = json::parse(calibration_to_json(small()));
  j["pin_change_delays"][1][0] = -5;
  EXPECT_FALSE(calibration_from_json(j.dump(), "c.json").ok());
}

TEST(CalibrationFile, EveryMissingMemberIsRefusedByName) {
  const json whole = json::parse(calibration_to_json(small()));
  for (const auto& [key, ignored] : whole.items()) {
    json j = whole;
    j.erase(key);
    const auto read = calibration_from_json(j.dump(), "c.json");
    ASSERT_FALSE(read.ok()) << key;
    EXPECT_NE(read.error().message.find("\"" + key + "\""), std::string::npos) << read.error().message;
    EXPECT_FALSE(fits_schema(j.dump())) << key;
  }
}

TEST(CalibrationFile, EveryTruncationIsRefused) {
  const std::string text = calibration_to_json(small());
  for (std::size_t n = 0; n + 2 < text.size(); ++n) EXPECT_FALSE(calibration_from_json(text.substr(0, n), "cut").ok()) << n;
}

}  // namespace
}  // namespace midstick::store
