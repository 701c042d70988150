// The runs below some folders, as one series a metric: the record is the run folders themselves, there is no second store.
//
// A run is a folder with run.json; its report.json is read, nothing else. Hidden folders are runs being made and are not looked into.
// What cannot be used (unfinished, cut short, report missing, not JSON, of another version) is named with its reason, never dropped
// silently. Series are kept per controller, build, bench and plan: numbers of different plans are not of one kind. A run's build is its
// label
// (`midstick run --build`), else the fingerprint of its images, else empty. Time is the run's start, UTC, as the host knew it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"

namespace midstick::trend {

struct Night {
  std::string started;           ///< ISO 8601, UTC
  std::filesystem::path folder;  ///< run folder
  double value{0};
  double uncertainty{0};  ///< 95 % half width, unit of the value
};

/// One number of one check of one controller's build, by night.
struct Metric {
  std::string controller, build, bench, plan;
  std::string check, measure, unit;
  std::optional<double> limit_low, limit_high;  ///< of the newest run
  std::vector<Night> nights;                    ///< by start, the oldest first
  std::size_t without_value{0};                 ///< runs that had this measure but could not measure it

  std::string name() const { return check + ": " + measure; }
};

struct LeftOut {
  std::filesystem::path folder;
  std::string why;
};

struct History {
  std::vector<Metric> metrics;  ///< by controller, plan, bench, build, in the order of the checks
  std::vector<LeftOut> left_out;
  std::size_t runs{0};  ///< used
};

/// Error{bad_file} where a folder does not exist or holds no run at all.
Result<History> read_history(const std::vector<std::filesystem::path>& folders);

}  // namespace midstick::trend
