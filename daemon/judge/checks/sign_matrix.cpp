// Sign matrix: each stick alone and both together, both ways. Does each side move the way the mixer spec says (catalogue faults 53, 54)?
// How far is the static mix's matter. Figures: common practice, no source.
#include <algorithm>
#include <functional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/positions.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 6;  // positions at which the spec moves a side clearly
constexpr double kClearly = 2;       // times "moved_us": what the spec must ask for, so that the sign is beyond doubt

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  const double full = param(check, "stick_percent"), half = full / 2;
  std::vector<Position> positions;
  for (const double sign : {1.0, -1.0}) positions.insert(positions.end(), {{sign * full, 0}, {0, sign * full}});
  for (const double t : {1.0, -1.0})
    for (const double s : {1.0, -1.0}) positions.insert(positions.end(), {{t * full, s * half}, {t * half, s * full}});
  Sticks sticks(plan, check.name, seed);
  hold_positions(sticks.arm(), plan, positions);
  return sticks.take();
}

/// One side at one position: which way it is asked to go and goes, -1 back, 0 rests, 1 ahead.
struct Sign {
  std::size_t reading;
  Side side;
  int asked, went;
};

int sign_of(double low, double high, double clear) { return low > clear ? 1 : high < -clear ? -1 : 0; }

int asked_sign(const Context& c, const mixer::MixerSpec& spec, const Reading& r, Side s) {
  const auto want = asked_ahead(c.plan, spec, r, s, param(c.check, "input_us"));
  return sign_of(want.low, want.high, kClearly * param(c.check, "moved_us"));
}

std::vector<Sign> signs(const Context& c, const std::vector<Reading>& readings) {
  std::vector<Sign> all;
  for (std::size_t i = 0; i < readings.size(); ++i)
    for (const Side s : kSides) {
      const int asked = asked_sign(c, c.plan.spec, readings[i], s);
      if (asked == 0) continue;
      const double went = ahead_us(c.plan, s, readings[i].at(s).mean_us);
      all.push_back({i, s, asked, sign_of(went, went, param(c.check, "moved_us"))});
    }
  return all;
}

/// A simple departure from the spec: another spec, or lines that changed places.
struct Pattern {
  const char* cause;
  const char* text;
  std::function<void(mixer::MixerSpec&)> change;
  bool sides_swapped{false}, sticks_swapped{false};
};

std::vector<Pattern> patterns() {
  using mixer::MixerSpec;
  using mixer::ReverseSteering;
  const auto nothing = [](MixerSpec&) {};
  return {{"steering-flips", "steering that changes sides in reverse",
           [](MixerSpec& s) {
             s.reverse_steering = s.reverse_steering == ReverseSteering::car ? ReverseSteering::tank : ReverseSteering::car;
           }},
          {"reversed-or-swapped", "a reversed throttle", [](MixerSpec& s) { s.throttle.reversed = !s.throttle.reversed; }},
          {"reversed-or-swapped", "reversed steering", [](MixerSpec& s) { s.steering.reversed = !s.steering.reversed; }},
          {"reversed-or-swapped", "a reversed left output", [](MixerSpec& s) { s.left.reversed = !s.left.reversed; }},
          {"reversed-or-swapped", "a reversed right output", [](MixerSpec& s) { s.right.reversed = !s.right.reversed; }},
          {"reversed-or-swapped", "left and right swapped", nothing, true, false},
          {"reversed-or-swapped", "throttle and steering swapped", nothing, false, true}};
}

bool explains(const Context& c, const Pattern& p, const std::vector<Reading>& readings, const std::vector<Sign>& all) {
  mixer::MixerSpec spec = c.plan.spec;
  p.change(spec);
  return std::all_of(all.begin(), all.end(), [&](const Sign& s) {
    Reading r = readings[s.reading];
    if (p.sticks_swapped) std::swap(r.hold.throttle_us, r.hold.steering_us);
    const Side side = p.sides_swapped ? (s.side == Side::left ? Side::right : Side::left) : s.side;
    const int asked = asked_sign(c, spec, r, side);
    return asked == 0 || asked == s.went;
  });
}

void name_causes(const Context& c, const std::vector<Reading>& readings, const std::vector<Sign>& all, std::int64_t wrong, Findings& f) {
  std::string id, text;
  for (const Pattern& p : patterns()) {
    if (!explains(c, p, readings, all) || (!id.empty() && id != p.cause)) continue;
    id = p.cause;
    text += (text.empty() ? "" : " or ") + std::string(p.text);
  }
  if (id.empty()) return;
  const auto n = static_cast<std::int64_t>(all.size());
  f.causes.push_back({id, 0.95, "all " + whole(n) + " movements, " + whole(wrong) + " of them wrong, are those of " + text});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto readings = read_positions(c, all);
  const auto found = signs(c, readings);
  std::vector<bool> failing(readings.size());
  Findings f;
  std::int64_t wrong_ways = 0;
  for (const Side side : kSides) {
    std::int64_t n = 0, wrong = 0;
    for (const Sign& s : found) {
      if (s.side != side) continue;
      ++n;
      wrong += s.went != s.asked;
      if (s.went != s.asked) failing[s.reading] = true;
    }
    f.measures.push_back(none_allowed(std::string(name(side)) + " moves the wrong way", wrong, n, "positions", kNeeded));
    wrong_ways += wrong;
  }
  if (auto lacking = positions_without_reading(all, readings.size())) f.measures.push_back(*lacking);
  add_positions(c, all, readings, failing, f.evidence);
  f.pictures.push_back(positions_picture(c, readings, failing, param(c.check, "input_us"), "Each stick alone, and both together"));
  if (wrong_ways > 0) name_causes(c, readings, found, wrong_ways, f);
  f.when_passed = "Each side moves the way the mixer spec says, for each stick alone and for both together.";
  f.when_failed = "The vehicle goes or turns the other way than its driver asks. Do not drive it.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSignMatrix{"sign-matrix", "each stick alone and both together, both ways: does each side move the right way", compose,
                            judge};

}  // namespace midstick::judge
