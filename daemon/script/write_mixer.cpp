#include "daemon/script/write_mixer.hpp"

#include <cmath>

namespace midstick::script {
namespace {

using nlohmann::json;

double rounded(double value, double step) { return std::round(value / step) * step; }

json percent(const std::vector<double>& positions) {
  json out = json::array();
  for (const double x : positions) out.push_back(std::round(x * 1e4) / 100);
  return out;
}

json widths(const std::vector<std::vector<double>>& rows) {
  json out = json::array();
  for (const auto& row : rows) {
    json line = json::array();
    for (const double us : row) line.push_back(rounded(us, 0.125));  // finer than any bench reads
    out.push_back(std::move(line));
  }
  return out;
}

}  // namespace

json table_json(const mixer::Table& table) {
  return {{"throttle_percent", percent(table.throttle)},
          {"steering_percent", percent(table.steering)},
          {"left_us", widths(table.left)},
          {"right_us", widths(table.right)}};
}

json with_table(json mixer, const mixer::Table& table) {
  for (const char* stick : {"throttle", "steering"})
    for (const char* key : {"dead_band", "square", "expo", "rate"}) mixer[stick].erase(key);  // its direction is part of its percent
  for (const char* side : {"left", "right"})
    for (const char* key : {"reversed", "reverse_limit", "start_offset", "trim_us"}) mixer[side].erase(key);
  mixer["mix"] = {{"law", "table"}, {"table", table_json(table)}};
  for (const char* key : {"more_inputs", "more_outputs"}) mixer.erase(key);
  return mixer;
}

}  // namespace midstick::script
