// Symmetry: the same stick left and right, ahead and back. Do the sides mirror one another as far as the mixer spec's do? A spec with a
// reverse limit or ends of its own is lopsided by itself; only what goes beyond it counts. Figures: common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/envelope.hpp"
#include "daemon/judge/positions.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 4;
constexpr double kGainApart = 0.02;  // two gains this close are the same
/// A controller whose clock is 0.5 % off sees every stick 1.5 % of its travel aside, the mirrored one as well. The positions played lie
/// 10 % apart; what each asks is taken from where it was seen.
constexpr double kSamePercent = 5;
constexpr double kStraight[] = {30, 60, 100};
constexpr Position kTurns[] = {{0, 40}, {0, 80}, {50, 30}};

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  std::vector<Position> positions;
  for (const double t : kStraight) positions.push_back({t, 0});
  for (const double t : kStraight) positions.push_back({-t, 0});
  for (const Position& p : kTurns) positions.push_back(p);
  for (const Position& p : kTurns) positions.push_back({p.throttle, -p.steering});
  Sticks sticks(plan, check.name, seed);
  hold_positions(sticks.arm(), plan, positions);
  return sticks.take();
}

/// One side at one position, ahead positive, us.
struct Answer {
  std::size_t reading;
  Side side;
  Position position;
  double got, uncertainty;
  mixer::Interval want;
};

std::vector<Answer> answers(const Context& c, const std::vector<Reading>& readings) {
  std::vector<Answer> all;
  const auto& spec = c.plan.spec;
  for (std::size_t i = 0; i < readings.size(); ++i)
    for (const Side s : kSides) {
      const Reading& r = readings[i];
      const Position at{std::round(percent_of(spec.throttle, r.hold.throttle_us)),
                        std::round(percent_of(spec.steering, r.hold.steering_us))};
      all.push_back({i, s, at, ahead_us(c.plan, s, r.at(s).mean_us), r.at(s).uncertainty_us,
                     asked_ahead(c.plan, spec, r, s, param(c.check, "input_us"))});
    }
  return all;
}

const Answer* find(const std::vector<Answer>& all, Side s, Position at) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const Answer& a) {
    return a.side == s && std::abs(a.position.throttle - at.throttle) < kSamePercent &&
           std::abs(a.position.steering - at.steering) < kSamePercent;
  });
  return found == all.end() ? nullptr : &*found;
}

/// The most lopsided pair.
struct Lopsided {
  double error{0}, uncertainty{0};
  std::int64_t pairs{0};
  std::string where;
};

/// `sign` 1: the two should be equal; -1: opposite.
void compare(const Context& c, const Answer& a, const Answer* b, double sign, Lopsided& l, std::vector<bool>& failing) {
  if (!b) return;
  const mixer::Interval other = sign > 0 ? b->want : mixer::Interval{-b->want.high, -b->want.low};
  const double error = outside({a.want.low - other.high, a.want.high - other.low}, a.got - sign * b->got);
  const double u = std::hypot(a.uncertainty, b->uncertainty), tolerance = param(c.check, "tolerance_us");
  if (decide(error, -tolerance, tolerance, u) == Verdict::fail) failing[a.reading] = failing[b->reading] = true;
  if (++l.pairs > 1 && std::abs(error) <= std::abs(l.error)) return;
  const auto told = [](const Answer& x) {
    return std::string(name(x.side)) + " " + num(x.got) + " us at throttle " + num(x.position.throttle, 0) + " %, steering " +
           num(x.position.steering, 0) + " %";
  };
  l = {error, u, l.pairs, told(a) + " against " + told(*b)};
}

/// Gain of one side in one direction against the spec, by least squares; 0 when nothing says.
struct Gain {
  double value{0};
  double worst_us{0};  ///< furthest reading from it
  std::int64_t readings{0};
};

Gain gain(const std::vector<Answer>& all, Side s, int way) {
  Gain g;
  double product = 0, square = 0;
  const auto counts = [&](const Answer& a) { return a.side == s && (way == 0 || a.want.mid() * way > 0); };
  for (const Answer& a : all)
    if (counts(a)) product += a.want.mid() * a.got, square += a.want.mid() * a.want.mid(), ++g.readings;
  if (square == 0) return g;
  g.value = product / square;
  for (const Answer& a : all)
    if (counts(a)) g.worst_us = std::max(g.worst_us, std::abs(outside({g.value * a.want.low, g.value * a.want.high}, a.got)));
  return g;
}

void name_causes(const Context& c, const std::vector<Answer>& all, Findings& f) {
  const double tolerance = param(c.check, "tolerance_us");
  const Gain left = gain(all, Side::left, 0), right = gain(all, Side::right, 0);
  const auto n = static_cast<std::int64_t>(all.size());
  if (left.value > 0 && right.value > 0 && std::max(left.worst_us, right.worst_us) <= tolerance &&
      std::abs(right.value / left.value - 1) > kGainApart) {
    f.causes.push_back({"side-gain", 0.95,
                        "right answers " + num(right.value / left.value, 3) + " times as strongly as left; all " + whole(n) +
                            " answers fit that within " + num(std::max(left.worst_us, right.worst_us)) + " us"});
    return;
  }
  std::string off;
  double worst = 0;
  for (const Side s : kSides)
    for (const int way : {1, -1}) {
      const Gain g = gain(all, s, way);
      worst = std::max(worst, g.worst_us);
      if (g.readings == 0 || std::abs(g.value - 1) <= kGainApart) continue;
      off += (off.empty() ? "" : ", ") + std::string(name(s)) + (way > 0 ? " ahead " : " back ") + num(g.value, 3);
    }
  if (!off.empty() && worst <= tolerance)
    f.causes.push_back({"endpoint-mismatch", 0.8, "answers are those of the spec times a factor: " + off});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto readings = read_positions(c, all);
  const auto found = answers(c, readings);
  std::vector<bool> failing(readings.size());
  Lopsided sides, ways[2];
  for (const Answer& a : found) {
    if (a.side == Side::left) compare(c, a, find(found, Side::right, {a.position.throttle, -a.position.steering}), 1, sides, failing);
    if (a.position.throttle > 0 && std::abs(a.position.steering) < kSamePercent)
      compare(c, a, find(found, a.side, {-a.position.throttle, a.position.steering}), -1, ways[static_cast<int>(a.side)], failing);
  }
  Findings f;
  const double tolerance = param(c.check, "tolerance_us");
  const auto add = [&](const std::string& what, const Lopsided& l, std::int64_t needed) {
    f.measures.push_back(measure(what, l.error, -tolerance, tolerance, l.uncertainty, "us", l.pairs, needed));
    f.measures.back().note += (f.measures.back().note.empty() ? "" : "; ") + l.where;
  };
  add("left against right", sides, kNeeded);
  for (const Side s : kSides) add(std::string(name(s)) + " ahead against back", ways[static_cast<int>(s)], 2);
  if (auto lacking = positions_without_reading(all, readings.size())) f.measures.push_back(*lacking);
  add_positions(c, all, readings, failing, f.evidence);
  f.pictures.push_back(
      positions_picture(c, readings, failing, param(c.check, "input_us"), "The same stick left and right, ahead and back"));
  if (overall(f.measures) == Verdict::fail) name_causes(c, found, f);
  f.when_passed = "Left and right, ahead and back mirror one another as far as the mixer spec's do.";
  f.when_failed = "The vehicle pulls to one side, or goes back otherwise than ahead.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSymmetry{"symmetry", "the same stick left and right, ahead and back: do both sides answer alike", compose, judge};

}  // namespace midstick::judge
