// Scores of a series against its own past: for charts that must not wait for a known mean and sigma.
//
// A CUSUM against a mean and sd estimated from a dozen nights alarms far too often: an estimate half a sigma off is a standing shift. Here
// each value is compared with all values before it, t = (x - mean) / sd * sqrt(n / (n + 1)), and t is turned into the normal score of the
// same probability. Of independent normal values the scores are exactly independent standard normal, however few came before (Hawkins, The
// Statistician 36 (1987) 299; from memory), so the run lengths of run_length.hpp hold without knowing mean or sigma. The price: a drift
// slowly enters its own reference. The more values before it began, the less. Values before `baseline` only teach; a drift inside them
// is not seen.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace midstick::statistics {

struct Reference {
  double mean{0}, sd{0};  ///< of all values before this one; sd not below the floor
  std::size_t values{0};  ///< how many
};

class SelfStarting {
 public:
  /// `sd_floor` >= 0, unit of the values: what a single value is not known better than. Keeps values that repeat exactly from making the
  /// first differing digit an alarm; it can only make alarms rarer.
  explicit SelfStarting(double sd_floor = 0) : sd_floor_(sd_floor) {}

  /// Mean and sd of what was learnt so far; nothing before the second value.
  std::optional<Reference> reference() const;
  /// Normal score of a further value; nothing before the second value. 0 where nothing ever varied and this does not either; at most +-30.
  std::optional<double> score(double value) const;
  void learn(double value);

 private:
  double sd_floor_;
  std::size_t values_{0};
  double mean_{0}, square_{0};  ///< sum of squared deviations, updated after Welford
};

/// The standard normal value as likely to be exceeded as `t` is under Student's t; at most +-30. dof >= 1.
double normal_score(double t, double dof);

/// Quantile of (estimated variance) / (true variance) of normal values with `dof` >= 1: chi-square over its degrees of freedom.
double variance_ratio(std::int64_t dof, double probability);

/// Score of every value from index `baseline` (at least 2) on; empty when there are none.
std::vector<double> self_starting_scores(std::span<const double> values, std::size_t baseline, double sd_floor = 0);

}  // namespace midstick::statistics
