// Control charts: has a series of values left its reference, and since when? Pure functions; values in the reference's own unit.
//
// CUSUM sums what exceeds an allowance and so sees small lasting shifts; EWMA is a weighted mean that forgets; Shewhart's constants turn
// ranges and standard deviations of small groups into limits. All assume values that are independent and about normal. How often each
// alarms is in run_length.hpp. Where the reference is estimated from few values use self_starting.hpp: a CUSUM against an estimate
// alarms far more often than its tables say.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace midstick::statistics {

struct CusumPlan {
  double target{0};     ///< value without shift
  double allowance{0};  ///< "k": half the shift to be found, unit of the values
  double decision{0};   ///< "h": alarm where a sum exceeds it, unit of the values
};

struct CusumPoint {
  double high{0}, low{0};  ///< sums of what lies above target + allowance and below target - allowance, never negative
};

/// Where a sum first exceeded the decision value.
struct CusumAlarm {
  std::size_t at{0};     ///< index of the value that raised it
  std::size_t began{0};  ///< index of the first value of the shift: the one after the sum last was 0 (Page's estimate)
  bool upward{false};
  double shift{0};  ///< estimate from the sum: allowance + sum / values since `began`; negative when downward
};

std::vector<CusumPoint> cusum(std::span<const double> values, const CusumPlan& plan);
/// Nothing while no sum exceeds the decision value. `points` from cusum() with the same plan.
std::optional<CusumAlarm> first_alarm(std::span<const CusumPoint> points, const CusumPlan& plan);

struct EwmaPlan {
  double target{0}, sigma{1};  ///< value without shift, standard deviation of one value
  double weight{0.2};          ///< "lambda" of the newest value, in (0, 1]
  double limit{3};             ///< "L": limits in standard deviations of the weighted mean
};

struct EwmaPoint {
  double mean{0};          ///< weighted mean, begun at the target
  double low{0}, high{0};  ///< exact limits for this many values: narrower at the beginning
  bool inside() const { return low <= mean && mean <= high; }
};

std::vector<EwmaPoint> ewma(std::span<const double> values, const EwmaPlan& plan);

/// Factors of Shewhart's charts for groups of n values: computed, not tabulated. Names as in every handbook.
struct ShewhartConstants {
  double c4{0};                 ///< expectation of the sd of n normal values, in sigmas
  double d2{0}, d3{0};          ///< expectation and sd of their range
  double a2{0}, a3{0};          ///< limits of the mean, from ranges and from sds
  double b3{0}, b4{0};          ///< limits of the sd
  double big_d3{0}, big_d4{0};  ///< "D3", "D4": limits of the range
};

/// Nothing for n < 2 or n > 1000.
std::optional<ShewhartConstants> shewhart_constants(int n);

}  // namespace midstick::statistics
