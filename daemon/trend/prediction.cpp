#include "daemon/trend/prediction.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/statistics/run_length.hpp"
#include "daemon/statistics/self_starting.hpp"

namespace midstick::trend {
namespace {

struct Scores {
  std::vector<double> mean, sd;
};

/// Means and sds of the scores when the baseline's variance came out as `variance` times the true one.
Scores scores_of(const ChartSetting& setting, std::span<const double> shifts, double variance) {
  Scores scores;
  double sum = 0, square = variance * static_cast<double>(setting.baseline - 1);
  auto nights = static_cast<double>(setting.baseline);
  for (const double shift : shifts) {
    const double away = std::sqrt(nights / (nights + 1)) * (shift - sum / nights), dof = nights - 1, sd = std::sqrt(square / dof);
    const auto score = [&](double deviation) { return statistics::normal_score(deviation / sd, dof); };
    constexpr double kStep = 0.01;
    scores.mean.push_back(score(away));
    scores.sd.push_back((score(away + kStep) - score(away - kStep)) / (2 * kStep));
    sum += shift;
    square += 1 + away * away;
    nights += 1;
  }
  return scores;
}

}  // namespace

std::vector<double> flagged_by(const ChartSetting& setting, std::span<const double> shifts) {
  constexpr int kVariances = 16;  // equally likely values of what the baseline may have estimated
  std::vector<double> by(shifts.size(), 0.0);
  for (int i = 0; i < kVariances; ++i) {
    const double variance = statistics::variance_ratio(static_cast<std::int64_t>(setting.baseline) - 1, (i + 0.5) / kVariances);
    const Scores scores = scores_of(setting, shifts, variance);
    const auto part = statistics::cusum_alarm_by(scores.mean, setting.allowance, setting.decision, scores.sd);
    for (std::size_t n = 0; n < by.size(); ++n) by[n] += part[n] / kVariances;
  }
  return by;
}

int nights_to_flag(const ChartSetting& setting, double per_night, double probability, int most) {
  // Grown step by step, since a fast drift needs a few nights only and each night costs.
  for (int nights = std::min(16, most);; nights = std::min(2 * nights, most)) {
    std::vector<double> shifts;
    for (int i = 1; i <= nights; ++i) shifts.push_back(per_night * i);
    const auto by = flagged_by(setting, shifts);
    const auto at = std::find_if(by.begin(), by.end(), [&](double p) { return p >= probability; });
    if (at != by.end()) return static_cast<int>(at - by.begin()) + 1;
    if (nights == most) return 0;
  }
}

}  // namespace midstick::trend
