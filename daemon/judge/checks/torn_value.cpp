// Torn value: both sticks' widths alternate across byte boundaries of the controller's counter, a frame each (catalogue faults 1, 4;
// figures common practice, no source).
//
// A value of two bytes that is read while its interrupt writes it has one byte of each width, and is 256 counts off: 128 us where a
// count is 0.5 us, 256 us at 1 us, 1024 us at 4 us. It is rare, so frames come as fast as the spec lets them, and many; the number of
// pulses bounds the rate. The outputs' own middle is the reference, so that a wrong mix is not blamed here.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 100;  // output pulses
constexpr double kRoomUs = 800;        // of a frame beside its two pulses
constexpr double kDitherShare = 0.05;  // of the period: sweeps the phase against the controller
constexpr std::size_t kSpansShown = 5;
constexpr const char* kAcross = "across a byte";
constexpr double kSlips[] = {1000, 1024};      // us: a clock read across its own carry
constexpr double kTears[] = {128, 256, 1024};  // us: 256 counts of 0.5, 1 and 4 us
constexpr double kMatchUs = 15;

std::vector<double> boundaries(const script::Plan& plan, const script::PlannedCheck& check) {
  const double half = param(check, "step_us") + 1;
  const double low = std::max(plan.spec.throttle.low_us, plan.spec.steering.low_us);
  const double high = std::min(plan.spec.throttle.high_us, plan.spec.steering.high_us);
  std::vector<double> inside;
  for (const auto& b : check.params.at("boundaries_us"))
    if (const double us = b.get<double>(); us - half >= low && us + half <= high) inside.push_back(us);
  return inside;
}

double period_us(const script::Plan& plan, const script::PlannedCheck& check) {
  const double fits = (plan.spec.throttle.high_us + plan.spec.steering.high_us + kRoomUs) / (1 - kDitherShare);
  return std::max(fits, param_or(check, "period_ms", plan.spec.receiver.period_low_ms) * 1e3);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  script::ReceiverFrame fast = plan.frame;
  fast.period_us = period_us(plan, check), fast.dither_us = kDitherShare * fast.period_us, fast.phase_us.clear();
  const auto all = boundaries(plan, check);
  const double point_ms = (fast.period_us + fast.dither_us) / 1e3, step = param(check, "step_us");
  const int frames = all.empty() ? 0 : std::max(2, count_param(check, "frames") / static_cast<int>(all.size()));
  for (const double us : all) {
    sticks.hold_us(us, us, settled_after_ms(plan, 2), kAcross).frame = fast;
    auto& move = sticks.hold_us(us, us, frames * point_ms);  // no mark: points would have one each
    move.kind = script::Move::Kind::points, move.point_ms = point_ms, move.frame = fast;
    for (int i = 0; i < frames; ++i) {
      const double at = us + (i % 2 ? step : -step);
      move.points.push_back({{plan.spec.throttle.name, at}, {plan.spec.steering.name, at}});
    }
    move.for_ms = frames * point_ms;
  }
  sticks.hold(0, 0, settled_after_ms(plan, 2), "back to neutral");
  return sticks.take();
}

/// One output over one boundary.
struct Stretch {
  const Traffic* traffic;
  Side side;
  BoardTime begin, end;
  double throttle_us{0}, steering_us{0};  ///< middle of what was sent
  double rest{0}, allowed_us{0};
  std::int64_t pulses{0};
  std::vector<Pulse> torn;
};

double middle(const Traffic& t, const PulseTrain& input, BoardTime begin, BoardTime end) {
  const auto pulses = input.within(begin, end);
  double low = 1e9, high = 0;
  for (const Pulse& p : pulses) low = std::min(low, t.us(p)), high = std::max(high, t.us(p));
  return pulses.empty() ? 0 : (low + high) / 2;
}

double answer(const script::Plan& plan, Side side, double throttle_us, double steering_us) {
  const auto y = mixer::expected(plan.spec, throttle_us, steering_us);
  return side == Side::left ? y.left_us : y.right_us;
}

std::vector<Stretch> stretches(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Stretch> found;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kAcross))
      for (const Side side : kSides) {
        const BoardTime begin = mark->at + t.ticks_ms(settled_after_ms(c.plan, 2)), end = t.end_of(*mark);
        const auto rest = rest_us(t, side, begin, end);
        Stretch s{&t, side, begin, end, middle(t, t.throttle(), begin, end), middle(t, t.steering(), begin, end), 0, 0, 0, {}};
        if (!rest || s.throttle_us == 0 || s.steering_us == 0 || !driven(c.plan, t, side, begin)) continue;
        const auto range =
            mixer::expected_within(c.plan.spec, s.throttle_us, s.steering_us, param(c.check, "step_us") + param(c.check, "input_us"));
        const auto& mine = side == Side::left ? range.left : range.right;
        s.rest = *rest, s.allowed_us = param(c.check, "tolerance_us") + mine.high - mine.low;
        for (const Pulse& p : t.output(side).within(begin, end)) {
          ++s.pulses;
          if (std::abs(t.us(p) - s.rest) > s.allowed_us + t.width_uncertainty(p)) s.torn.push_back(p);
        }
        found.push_back(s);
      }
  return found;
}

/// Is this outlier what the model answers when one stick is read `us` wrong?
bool reads_as(const Context& c, const Stretch& s, const Pulse& p, double us) {
  const double off = s.traffic->us(p) - s.rest, base = answer(c.plan, s.side, s.throttle_us, s.steering_us);
  for (const double wrong : {us, -us})
    for (const double asked : {answer(c.plan, s.side, s.throttle_us + wrong, s.steering_us) - base,
                               answer(c.plan, s.side, s.throttle_us, s.steering_us + wrong) - base})
      if (std::abs(asked) > s.allowed_us / 2 && std::abs(off - asked) <= kMatchUs + s.allowed_us - param(c.check, "tolerance_us"))
        return true;
  return false;
}

/// 256 counts of 4 us are 1024 us, as much as a slip: they are torn only where that counter's byte changes.
bool byte_changes(const Stretch& s, double tear) { return std::abs(std::remainder(s.throttle_us, tear)) <= 8; }

void name_causes(const Context& c, const std::vector<Stretch>& all, Findings& f) {
  std::int64_t seen = 0, slips = 0, torn[std::size(kTears)] = {};
  for (const Stretch& s : all)
    for (const Pulse& p : s.torn) {
      ++seen;
      bool explained = false;
      for (std::size_t i = 0; i < std::size(kTears) && !explained; ++i)
        if (byte_changes(s, kTears[i]) && reads_as(c, s, p, kTears[i])) explained = true, ++torn[i];
      for (const double slip : kSlips)
        if (!explained && reads_as(c, s, p, slip)) explained = true, ++slips;
    }
  const auto share = [&](std::int64_t n) { return 0.95 * static_cast<double>(n) / static_cast<double>(seen); };
  const std::int64_t all_torn = torn[0] + torn[1] + torn[2];
  if (seen == 0) return;
  std::size_t most = 0;
  for (std::size_t i = 1; i < std::size(kTears); ++i)
    if (torn[i] > torn[most]) most = i;
  if (2 * all_torn >= seen)
    f.causes.push_back({"torn-read", share(all_torn),
                        whole(all_torn) + " of " + whole(seen) + " outliers are a stick read 256 counts wrong, most of them " +
                            num(kTears[most], 0) + " us, which is 256 counts of " + num(kTears[most] / 256) + " us"});
  if (2 * slips >= seen)
    f.causes.push_back(
        {"time-base-slip", share(slips), whole(slips) + " of " + whole(seen) + " outliers are a stick read 1000 or 1024 us wrong"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = stretches(c, all);
  if (found.empty())
    return undecided(c, "the outputs were not driven while the widths alternated, or no boundary lies inside the sticks' travel.");
  Findings f;
  std::int64_t pulses = 0, torn = 0;
  double furthest = 0;
  const Stretch* worst = &found.front();
  for (const Stretch& s : found) {
    pulses += s.pulses, torn += static_cast<std::int64_t>(s.torn.size());
    if (s.torn.size() > worst->torn.size()) worst = &s;
    for (const Pulse& p : s.torn) {
      furthest = std::max(furthest, std::abs(s.traffic->us(p) - s.rest));
      if (f.evidence.size() < kSpansShown)
        f.evidence.push_back(
            s.traffic->span(p.rise, p.fall, num(s.traffic->us(p) - s.rest, 0) + " us off on the " + name(s.side) + " output", true));
    }
  }
  Measure m = none_allowed("pulses of neither width", torn, pulses, "pulses", kNeeded);
  if (torn > 0) m.note += "; the furthest is " + num(furthest, 0) + " us off";
  f.measures.push_back(std::move(m));
  name_causes(c, found, f);
  if (f.evidence.empty())
    for (const Stretch& s : found)
      if (s.side == Side::left) f.evidence.push_back(s.traffic->span(s.begin, s.end, "around " + num(s.throttle_us, 0) + " us", false));
  f.pictures.push_back(
      time_picture(*worst->traffic, worst->begin, worst->end, "Both sticks alternate around " + num(worst->throttle_us, 0) + " us"));
  f.when_passed = "Widths that alternate across byte boundaries gave no output that belongs to neither.";
  f.when_failed = "Now and then the vehicle kicks for one frame, for no reason that its sticks give.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kTornValue{"torn-value", "widths alternating across byte boundaries: no output from half of each", compose, judge};

}  // namespace midstick::judge
