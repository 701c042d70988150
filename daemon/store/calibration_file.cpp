#include "daemon/store/calibration_file.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "daemon/store/files.hpp"

namespace midstick::store {
namespace {

using capture::Calibration;
using nlohmann::json;

constexpr std::size_t kMaxFile = 1u << 20;
constexpr double kMaxLate = 1000;  ///< ticks; far past anything a board's own checks let through
constexpr int kMaxDelay = 1000;
constexpr std::size_t kMaxDelays = 2 * kMaxDelay + 1;
constexpr std::int64_t kMaxCount = 1'000'000'000'000;

/// A value and where it stands in the file, so that every error can say so.
class Place {
 public:
  Place(const json& value, std::string pointer) : value_(value), pointer_(std::move(pointer)) {}

  Place at(const std::string& key) const {
    const auto found = value_.is_object() ? value_.find(key) : value_.end();
    if (!value_.is_object() || found == value_.end()) fail("an object with \"" + key + "\"");
    return {*found, pointer_ + "/" + key};
  }
  Place at(std::size_t i) const { return {value_[i], pointer_ + "/" + std::to_string(i)}; }
  std::size_t size(std::size_t low, std::size_t high) const {
    if (!value_.is_array() || value_.size() < low || value_.size() > high)
      fail("a list of " + (low == high ? std::to_string(low) : "at most " + std::to_string(high)) + " values");
    return value_.size();
  }
  std::string text() const {
    if (!value_.is_string()) fail("text");
    return value_.get<std::string>();
  }
  double number(double low, double high) const {
    const double v = value_.is_number() ? value_.get<double>() : std::nan("");
    if (!(v >= low && v <= high)) fail("a number, " + json(low).dump() + " to " + json(high).dump());
    return v;
  }
  std::int64_t whole(std::int64_t low, std::int64_t high) const {
    const bool fits =
        value_.is_number_unsigned() ? value_.get<std::uint64_t>() <= static_cast<std::uint64_t>(high) : value_.is_number_integer();
    if (!fits || value_.get<std::int64_t>() < low || value_.get<std::int64_t>() > high)
      fail("a whole number, " + std::to_string(low) + " to " + std::to_string(high));
    return value_.get<std::int64_t>();
  }
  [[noreturn]] void fail(const std::string& expected) const {
    throw std::runtime_error((pointer_.empty() ? "/" : pointer_) + ": found " +
                             value_.dump(-1, ' ', false, json::error_handler_t::replace).substr(0, 60) + "; expected " + expected);
  }

 private:
  const json& value_;
  std::string pointer_;
};

template <std::size_t N>
std::array<double, N> late(const Place& place) {
  std::array<double, N> out{};
  place.size(N, N);
  for (std::size_t i = 0; i < N; ++i) out[i] = place.at(i).number(-kMaxLate, kMaxLate);
  return out;
}

std::vector<capture::DelayCount> delays(const Place& place) {
  std::vector<capture::DelayCount> out;
  const std::size_t n = place.size(0, kMaxDelays);
  for (std::size_t i = 0; i < n; ++i) {
    const Place pair = place.at(i);
    pair.size(2, 2);
    out.push_back({static_cast<int>(pair.at(0).whole(-kMaxDelay, kMaxDelay)), pair.at(1).whole(1, kMaxCount)});
    if (i > 0 && out[i].ticks <= out[i - 1].ticks) pair.at(0).fail("more ticks than in the entry before");
  }
  return out;
}

}  // namespace

json calibration_value(const Calibration& c) {
  json delays = json::array();
  for (const auto& d : c.pin_change) delays.push_back({d.ticks, d.count});
  return {{"board", c.board},
          {"date", c.date},
          {"valid_days", c.valid_days},
          {"firmware", c.firmware},
          {"schema_hash", c.schema_hash},
          {"supply_mv", c.supply_mv},
          {"clock_ppm", c.clock_ppm},
          {"clock_uncertainty_ppm", c.clock_uncertainty_ppm},
          {"stimulus_late_ticks", c.stimulus_late},
          {"response_late_ticks", c.response_late},
          {"lone_half_ticks", c.lone_half},
          {"pin_change_delays", std::move(delays)}};
}

Calibration calibration_of(const json& value, const std::string& pointer) {
  const Place place(value, pointer);
  Calibration c;
  c.board = place.at("board").text();
  c.date = place.at("date").text();
  c.valid_days = static_cast<int>(place.at("valid_days").whole(1, 3650));
  c.firmware = place.at("firmware").text();
  c.schema_hash = place.at("schema_hash").text();
  c.supply_mv = static_cast<int>(place.at("supply_mv").whole(0, 60'000));
  c.clock_ppm = place.at("clock_ppm").number(-100'000, 100'000);
  c.clock_uncertainty_ppm = place.at("clock_uncertainty_ppm").number(0, 100'000);
  c.stimulus_late = late<6>(place.at("stimulus_late_ticks"));
  c.response_late = late<8>(place.at("response_late_ticks"));
  c.lone_half = static_cast<std::uint16_t>(place.at("lone_half_ticks").whole(0, 65535));
  c.pin_change = delays(place.at("pin_change_delays"));
  return c;
}

std::string calibration_to_json(const Calibration& calibration) {
  json out = calibration_value(calibration);
  out["format"] = kCalibrationFormat;
  return out.dump(1) + "\n";
}

Result<Calibration> calibration_from_json(std::string_view text, const std::string& where) try {
  const json j = json::parse(text);
  const Place format = Place(j, "").at("format");
  if (format.text() != kCalibrationFormat) format.fail("\"" + std::string(kCalibrationFormat) + "\"");
  return calibration_of(j, "");
} catch (const json::exception& e) {
  return Error{ErrorKind::bad_file, where + ": is not JSON: " + e.what()};
} catch (const std::runtime_error& e) {
  return Error{ErrorKind::bad_file, where + ": " + e.what()};
}

Result<Calibration> read_calibration(const std::filesystem::path& path) {
  const auto text = read_file(path, kMaxFile);
  if (!text) return text.error();
  return calibration_from_json(text.value(), path.string());
}

}  // namespace midstick::store
