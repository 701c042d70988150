#include "daemon/clock/corridor.hpp"

#include <algorithm>
#include <limits>

namespace midstick::clock {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

}  // namespace

void Corridor::floor(double tick, double ns) { push(floor_, {tick, ns}, 1); }
void Corridor::ceiling(double tick, double ns) { push(ceiling_, {tick, ns}, -1); }

/// Monotone chain: points under the chord of their neighbours say nothing (`side` -1: over it).
void Corridor::push(Hull& hull, Corner corner, double side) {
  const auto hidden = [&](const Corner& a, const Corner& b) {
    return side * ((b.tick - a.tick) * (corner.ns - a.ns) - (b.ns - a.ns) * (corner.tick - a.tick)) >= 0;
  };
  while (hull.size() > 1 && hidden(hull[hull.size() - 2], hull.back())) hull.pop_back();
  hull.push_back(corner);
}

double Corridor::highest_floor(double rate) const {
  double highest = -kInfinite;
  for (const Corner& c : floor_) highest = std::max(highest, c.ns - rate * c.tick);
  return highest;
}

double Corridor::lowest_ceiling(double rate) const {
  double lowest = kInfinite;
  for (const Corner& c : ceiling_) lowest = std::min(lowest, c.ns - rate * c.tick);
  return lowest;
}

double Corridor::slack(double rate) const { return (lowest_ceiling(rate) - highest_floor(rate)) / 2; }
double Corridor::middle(double rate) const { return (lowest_ceiling(rate) + highest_floor(rate)) / 2; }

std::vector<double> Corridor::corners_of_slack(RateBounds among) const {
  std::vector<double> rates{among.low, among.high};
  for (const Hull* hull : {&floor_, &ceiling_})
    for (std::size_t i = 1; i < hull->size(); ++i) {
      const double ticks = (*hull)[i].tick - (*hull)[i - 1].tick;
      if (ticks <= 0) continue;
      const double rate = ((*hull)[i].ns - (*hull)[i - 1].ns) / ticks;
      if (rate > among.low && rate < among.high) rates.push_back(rate);
    }
  std::ranges::sort(rates);
  return rates;
}

double Corridor::roomiest(RateBounds among) const {
  const auto rates = corners_of_slack(among);
  std::size_t low = 0, high = rates.size() - 1;
  while (low < high) {
    const std::size_t middle = (low + high) / 2;
    const double here = slack(rates[middle]), next = slack(rates[middle + 1]);
    if (here == next) return (rates[middle] + rates[middle + 1]) / 2;
    here < next ? low = middle + 1 : high = middle;
  }
  return rates[low];
}

RateBounds Corridor::possible(RateBounds among, double inside, double least) const {
  const auto rates = corners_of_slack(among);
  // From the last corner that fits to the first that does not, slack is a straight line.
  const auto edge = [&](double fits, auto from, auto to) {
    double fits_slack = slack(fits);
    for (auto rate = from; rate != to; ++rate) {
      const double here = slack(*rate);
      if (here < least) return here == fits_slack ? fits : fits + (*rate - fits) * (fits_slack - least) / (fits_slack - here);
      fits = *rate;
      fits_slack = here;
    }
    return fits;
  };
  const auto above = std::ranges::upper_bound(rates, inside);
  return {edge(inside, std::make_reverse_iterator(std::ranges::lower_bound(rates, inside)), rates.rend()),
          edge(inside, above, rates.end())};
}

}  // namespace midstick::clock
