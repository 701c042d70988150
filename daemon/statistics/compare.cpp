#include "daemon/statistics/compare.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

namespace midstick::statistics {
namespace {

/// Both samples together, in order; `group_end[i]` where no later value equals the i-th.
struct Pooled {
  std::vector<double> values;
  std::vector<bool> first;
  std::vector<bool> group_end;
};

Pooled pooled(std::span<const double> a, std::span<const double> b) {
  std::vector<std::pair<double, bool>> all;
  for (const double v : a) all.emplace_back(v, true);
  for (const double v : b) all.emplace_back(v, false);
  std::sort(all.begin(), all.end());
  Pooled p;
  for (std::size_t i = 0; i < all.size(); ++i) {
    p.values.push_back(all[i].first);
    p.first.push_back(all[i].second);
    p.group_end.push_back(i + 1 == all.size() || all[i + 1].first != all[i].first);
  }
  return p;
}

/// Twice the mid-rank of each pooled value: whole numbers, ties included.
std::vector<int> double_ranks(const Pooled& p) {
  std::vector<int> ranks(p.values.size());
  for (std::size_t from = 0; from < ranks.size();) {
    std::size_t to = from;
    while (!p.group_end[to]) ++to;
    for (std::size_t i = from; i <= to; ++i) ranks[i] = static_cast<int>(from + to + 2);
    from = to + 1;
  }
  return ranks;
}

/// Share of all ways to draw `n` of the ranks whose sum is at least `distance` away from its expectation.
double chance_of_rank_sum(const std::vector<int>& ranks, std::size_t n, int distance) {
  const auto all = std::accumulate(ranks.begin(), ranks.end(), 0);
  // ways[c][s]: chance that c ranks are drawn among those seen so far with sum s, each subset of the final size being equally likely;
  // drawing the i-th of N with c already drawn has chance (n - c) / (N - i).
  std::vector<std::vector<double>> ways(n + 1, std::vector<double>(static_cast<std::size_t>(all) + 1, 0.0));
  ways[0][0] = 1;
  for (std::size_t i = 0; i < ranks.size(); ++i) {
    const auto rank = static_cast<std::size_t>(ranks[i]);
    const auto left = static_cast<double>(ranks.size() - i);
    for (std::size_t c = std::min(n, i) + 1; c-- > 0;) {
      const double take = static_cast<double>(n - c) / left;
      if (take > 1) continue;  // too few ranks left: nothing is here
      for (std::size_t s = ways[c].size(); s-- > 0;) {
        const double here = ways[c][s];
        if (here == 0) continue;
        if (c < n) ways[c + 1][s + rank] += here * take;
        ways[c][s] = here * (1 - take);
      }
    }
  }
  const auto size = static_cast<int>(ranks.size());
  const int expected = static_cast<int>(n) * (size + 1);  // of the doubled rank sum; n (N + 1) is whole
  double p = 0;
  for (int s = 0; s <= all; ++s)
    if (std::abs(s - expected) >= distance) p += ways[n][static_cast<std::size_t>(s)];
  return std::min(1.0, p);
}

double approximate_p(const Pooled& pool, double distance_of_u, double n, double m) {
  double ties = 0;
  for (std::size_t from = 0; from < pool.values.size();) {
    std::size_t to = from;
    while (!pool.group_end[to]) ++to;
    const auto t = static_cast<double>(to - from + 1);
    ties += t * t * t - t;
    from = to + 1;
  }
  const double all = n + m, variance = n * m / 12 * (all + 1 - ties / (all * (all - 1)));
  if (!(variance > 0)) return 1;
  const double z = std::max(0.0, distance_of_u - 0.5) / std::sqrt(variance);
  return 2 * cdf(complement(boost::math::normal(), z));
}

}  // namespace

std::optional<MannWhitney> mann_whitney(std::span<const double> first, std::span<const double> second) {
  if (first.empty() || second.empty()) return {};
  const Pooled pool = pooled(first, second);
  const auto ranks = double_ranks(pool);
  int sum = 0;
  for (std::size_t i = 0; i < ranks.size(); ++i)
    if (pool.first[i]) sum += ranks[i];
  const auto n = static_cast<double>(first.size()), m = static_cast<double>(second.size());
  MannWhitney w;
  w.u = sum / 2.0 - n * (n + 1) / 2;
  w.effect = 2 * w.u / (n * m) - 1;
  w.exact = ranks.size() <= kExactRanks;
  // Twice the distance of U from its expectation is that of the doubled rank sum.
  const int distance = std::abs(sum - static_cast<int>(first.size()) * (static_cast<int>(ranks.size()) + 1));
  w.p = w.exact ? chance_of_rank_sum(ranks, first.size(), distance) : approximate_p(pool, distance / 2.0, n, m);
  return w;
}

double mann_whitney_z(double u, std::size_t n, std::size_t m) {
  const double product = static_cast<double>(n) * static_cast<double>(m);
  return (u - product / 2) / std::sqrt(product * static_cast<double>(n + m + 1) / 12);
}

std::optional<KolmogorovSmirnov> kolmogorov_smirnov(std::span<const double> first, std::span<const double> second) {
  if (first.empty() || second.empty()) return {};
  const Pooled pool = pooled(first, second);
  const auto n = static_cast<std::int64_t>(first.size()), m = static_cast<std::int64_t>(second.size());
  // Distances are whole multiples of 1 / (n m): compared as whole numbers. They count only where a group of equal values ends.
  std::int64_t largest = 0, i = 0, j = 0;
  for (std::size_t at = 0; at < pool.values.size(); ++at) {
    (pool.first[at] ? i : j) += 1;
    if (pool.group_end[at]) largest = std::max(largest, std::abs(i * m - j * n));
  }
  // touched[j]: of all orders of i values of the first and j of the second sample, the share that has been `largest` apart somewhere.
  std::vector<double> touched(static_cast<std::size_t>(m) + 1);
  for (i = 0; i <= n; ++i)
    for (j = 0; j <= m; ++j) {
      double& here = touched[static_cast<std::size_t>(j)];
      const auto seen = static_cast<double>(i + j);
      const double above = here, before = j > 0 ? touched[static_cast<std::size_t>(j) - 1] : 0;
      here = i + j == 0 ? 0 : (static_cast<double>(i) * above + static_cast<double>(j) * before) / seen;
      const bool counts = i + j == 0 || pool.group_end[static_cast<std::size_t>(i + j) - 1];
      if (counts && std::abs(i * m - j * n) >= largest) here = 1;
    }
  return KolmogorovSmirnov{static_cast<double>(largest) / static_cast<double>(n * m), std::min(1.0, touched.back())};
}

}  // namespace midstick::statistics
