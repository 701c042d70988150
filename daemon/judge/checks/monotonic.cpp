// Monotonic: fine sweeps of each stick alone and both together, past the ends as far as the spec's receiver window goes, with single
// steps where a count of 0.5, 1 or 4 us passes 128 or 256. No jump that the model does not make, no step back (catalogue fault 35). Which
// way and how steeply is for other checks. Figures: common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sent.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/slew.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 40;                // pulses on the sweeps
constexpr double kTravel = 1.5;                     // times the stick's own
constexpr double kCarries[] = {64, 128, 256, 512};  // us from centre: 128 and 256 counts of 0.5, 1 and 4 us
constexpr double kCount = 0.5, kAround = 1.5;       // us: the smallest count, and how far around a carry single counts are sent
constexpr double kRows[] = {-100, -50, 50, 100};    // percent
constexpr double kOverflowUs = 100;                 // a jump this far past the model's is a carry lost ...
constexpr int kStays = 3;                           // ... when the output stays off the model for so many pulses
constexpr double kTurnsUs = 5;                      // the model turns round when it comes back by more
constexpr std::size_t kSpansShown = 8;
constexpr const char* kEnd = "end of sweep";

/// One way through the stick square, us by sample.
struct Leg {
  const char* label;
  std::vector<std::pair<double, double>> points;
};

struct Travel {
  double low, high;
};

Travel travel(const script::Plan& plan, const mixer::InputSpec& in) {
  return {std::max(in.centre_us - kTravel * (in.centre_us - in.low_us), plan.spec.receiver.accept_low_us),
          std::min(in.centre_us + kTravel * (in.high_us - in.centre_us), plan.spec.receiver.accept_high_us)};
}

std::vector<double> even_steps(const Travel& t, double step) {
  std::vector<double> widths;
  const int n = std::max(2, static_cast<int>(std::ceil((t.high - t.low) / step)));
  for (int i = 0; i <= n; ++i) widths.push_back(t.low + (t.high - t.low) * i / n);
  return widths;
}

std::vector<double> fine_sweep(const Travel& t, double centre, double step) {
  std::vector<double> widths = even_steps(t, step);
  for (const double carry : kCarries)
    for (const double sign : {-1.0, 1.0})
      for (double off = -kAround; off <= kAround; off += kCount)
        if (const double us = centre + sign * carry + off; us > t.low && us < t.high) widths.push_back(us);
  std::sort(widths.begin(), widths.end());
  return widths;
}

std::vector<Leg> legs(const script::Plan& plan, const script::PlannedCheck& check) {
  const auto &throttle = plan.spec.throttle, &steering = plan.spec.steering;
  const Travel t = travel(plan, throttle), s = travel(plan, steering);
  std::vector<Leg> all{{"throttle alone", {}}, {"steering alone", {}}};
  for (const double us : fine_sweep(t, throttle.centre_us, param(check, "step_us"))) all[0].points.push_back({us, steering.centre_us});
  for (const double us : fine_sweep(s, steering.centre_us, param(check, "step_us"))) all[1].points.push_back({throttle.centre_us, us});
  static constexpr const char* kRowNames[] = {"steering at full back", "steering at half back", "steering at half ahead",
                                              "steering at full ahead"};
  const double coarse = param(check, "grid_step_us");
  const auto row_at = [&](double percent) {
    return throttle.centre_us +
           percent / 100 * (percent < 0 ? throttle.centre_us - throttle.low_us : throttle.high_us - throttle.centre_us);
  };
  for (std::size_t i = 0; i < std::size(kRows); ++i) {
    all.push_back({kRowNames[i], {}});
    for (const double us : even_steps(s, coarse)) all.back().points.push_back({row_at(kRows[i]), us});
  }
  for (const bool same : {true, false}) {
    all.push_back({same ? "both sticks the same way" : "both sticks opposite ways", {}});
    const auto across = even_steps(t, coarse);
    for (std::size_t i = 0; i < across.size(); ++i) {
      const double share = static_cast<double>(i) / static_cast<double>(across.size() - 1);
      all.back().points.push_back({across[i], same ? s.low + share * (s.high - s.low) : s.high - share * (s.high - s.low)});
    }
  }
  return all;
}

/// A sample lasts one frame; with a slew limit long enough for the controller to keep up.
double sample_ms(const script::Plan& plan, const std::vector<std::pair<double, double>>& points) {
  double need = 0;
  const auto at = [](const mixer::InputSpec& in, double us) { return mixer::stick(in, us); };
  for (std::size_t i = 1; i < points.size(); ++i) {
    const auto& [t0, s0] = points[i - 1];
    const auto& [t1, s1] = points[i];
    need = std::max({need, 1500 * mixer::slew_seconds(plan.spec.throttle, at(plan.spec.throttle, t0), at(plan.spec.throttle, t1)),
                     1500 * mixer::slew_seconds(plan.spec.steering, at(plan.spec.steering, s0), at(plan.spec.steering, s1))});
  }
  return std::max(need, (plan.frame.period_us + plan.frame.dither_us) / 1e3);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const double rest = plan.spec.latency_max_ms + 1e3 * mixer::longest_slew_seconds(plan.spec) + 2 * plan.frame.period_us / 1e3;
  const double frame = (plan.frame.period_us + plan.frame.dither_us) / 1e3;
  for (const Leg& leg : legs(plan, check)) {
    sticks.hold_us(leg.points.front().first, leg.points.front().second, rest, "to the start");
    sticks.hold_us(leg.points.front().first, leg.points.front().second, frame, leg.label);
    script::Move& move = sticks.hold_us(leg.points.front().first, leg.points.front().second, frame);
    move.kind = script::Move::Kind::points;
    move.point_ms = sample_ms(plan, leg.points);
    for (const auto& [t, s] : leg.points) move.points.push_back({{plan.spec.throttle.name, t}, {plan.spec.steering.name, s}});
    sticks.hold_us(leg.points.back().first, leg.points.back().second, plan.spec.latency_max_ms, kEnd);
  }
  sticks.hold(0, 0, rest, "back to neutral");
  return sticks.take();
}

/// A change between two pulses that the model does not make.
struct Jump {
  double by_us, excess_us;
  double throttle_us, steering_us;  ///< sticks sent then
  int stays{0};                     ///< pulses that stayed off the model afterwards
  const Traffic* traffic;
  BoardTime begin, end;
};

/// What one output showed over all legs.
struct Answer {
  Extreme jump;  ///< us past the model's own change
  Extreme back;  ///< us against its own direction where the model keeps one
  std::vector<Jump> jumps;
  Answer(double jump_us, double back_us) : jump({}, jump_us), back({}, back_us) {}
};

/// How far an output went back against its own direction while the model kept its. After the model has turned round, the output has
/// `lag_ms` to turn round as well.
class Direction {
 public:
  explicit Direction(double lag_ms) : lag_ms_(lag_ms) {}

  /// Follow one pulse; how far it is back, by the way that the output has gone further. Of this pulse alone: what the sticks explain of a
  /// step back is known while it happens, and not for the rest of the sweep.
  double step(double model_us, double out_us, double now_ms) {
    const bool turned = (rising_ > 0 && model_us < extreme_ - kTurnsUs) || (rising_ < 0 && model_us > extreme_ + kTurnsUs);
    if (first_ || turned) {
      rising_ = first_ ? 0 : -rising_;
      first_ = false;
      start_ = extreme_ = model_us;
      turned_ms_ = now_ms;
    }
    if (now_ms - turned_ms_ <= lag_ms_) {
      low_ = high_ = out_us;
      up_ = down_ = 0;
    }
    if (rising_ == 0 && std::abs(model_us - start_) > kTurnsUs) rising_ = model_us > start_ ? 1 : -1;
    extreme_ = rising_ < 0 ? std::min(extreme_, model_us) : std::max(extreme_, model_us);
    low_ = std::min(low_, out_us), high_ = std::max(high_, out_us);
    up_ = std::max(up_, out_us - low_), down_ = std::max(down_, high_ - out_us);
    return up_ >= down_ ? high_ - out_us : out_us - low_;
  }

 private:
  bool first_{true};
  int rising_{0};
  double lag_ms_, turned_ms_{0};
  double start_{0}, extreme_{0}, low_{0}, high_{0}, up_{0}, down_{0};
};

const Sent& known_at(const std::vector<Sent>& samples, BoardTime at) {
  const auto next = std::partition_point(samples.begin(), samples.end(), [&](const Sent& s) { return s.fall <= at; });
  return next == samples.begin() ? samples.front() : *(next - 1);
}

int stays_off(const Traffic& t, const std::vector<Sent>& samples, Side side, std::span<const Pulse> pulses, std::size_t from,
              BoardSpan reach) {
  int n = 0;
  for (std::size_t i = from; i < pulses.size() && n < 100; ++i, ++n) {
    const auto asked = asked_between(samples, side, pulses[i].fall - reach, pulses[i].fall);
    const double us = t.us(pulses[i]);
    if (!asked || (us > asked->low - kOverflowUs / 2 && us < asked->high + kOverflowUs / 2)) break;
  }
  return n;
}

void follow(const Context& c, const Traffic& t, const std::vector<Sent>& samples, Side side, BoardTime begin, BoardTime end, Answer& a) {
  const BoardSpan reach = t.ticks_ms(c.plan.spec.latency_max_ms + c.plan.spec.frame.period_high_ms);
  const auto pulses = t.output(side).falling_in(begin, end);
  Direction direction(c.plan.spec.latency_max_ms + c.plan.spec.frame.period_high_ms + 1e3 * mixer::longest_slew_seconds(c.plan.spec));
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    const Pulse& p = pulses[i];
    const double us = t.us(p);
    const auto now = asked_between(samples, side, p.fall - t.ticks_ms(c.plan.spec.latency_max_ms), p.fall);
    if (!now) continue;
    // A frame may show one stick new and the other old, which is within what is asked meanwhile.
    a.back.add(t, p, std::max(0.0, direction.step(now->mid(), us, t.ms(p.fall - begin)) - (now->high - now->low)));
    if (i == 0) continue;
    const auto asked = asked_between(samples, side, pulses[i - 1].fall - reach, p.fall);
    const Sent &known = known_at(samples, p.rise), &before = known_at(samples, pulses[i - 1].rise);
    // Another slope than the model's is no jump: what the sticks themselves moved is allowed, too.
    const double moved = std::abs(known.throttle_us - before.throttle_us) + std::abs(known.steering_us - before.steering_us);
    const double by = us - t.us(pulses[i - 1]), excess = std::max(0.0, std::abs(by) - std::max(moved, asked->high - asked->low));
    a.jump.add(t, p, excess);
    if (excess <= param(c.check, "jump_us")) continue;
    a.jumps.push_back(
        {by, excess, known.throttle_us, known.steering_us, stays_off(t, samples, side, pulses, i, reach), &t, pulses[i - 1].rise, p.fall});
  }
}

std::string sticks_at(const script::Plan& plan, const Jump& j) {
  return "throttle " + num(j.throttle_us - plan.spec.throttle.centre_us, 0) + " us and steering " +
         num(j.steering_us - plan.spec.steering.centre_us, 0) + " us from centre";
}

void name_causes(const Context& c, const std::vector<Jump>& jumps, Findings& f) {
  std::vector<const Jump*> lost;
  for (const Jump& j : jumps)
    if (j.excess_us >= kOverflowUs && j.stays >= kStays) lost.push_back(&j);
  if (lost.empty()) return;
  const Jump& j = *lost.front();
  const auto n = static_cast<std::int64_t>(lost.size()), all = static_cast<std::int64_t>(jumps.size());
  f.causes.push_back({"integer-overflow", 0.6 + 0.35 * static_cast<double>(n) / static_cast<double>(all),
                      whole(n) + " of " + whole(all) + " jumps are far and stay; the first is by " + num(j.by_us, 0) + " us at " +
                          sticks_at(c.plan, j) + ", and " + whole(j.stays) + " pulses stay off the model"});
}

Picture picture(const Traffic& t, const std::vector<Sent>& samples, BoardTime begin, BoardTime end, const char* label) {
  Picture p;
  p.title = std::string("Sweep: ") + label;
  p.x_label = "time, ms";
  p.y_label = "pulse width, us";
  for (const Side s : kSides) {
    Series want = series(Series::Role::expected, Series::Style::line, std::string(name(s)) + " expected");
    for (const Sent& sample : samples)
      if (sample.fall >= begin && sample.fall <= end) point(want, t.ms(sample.fall - begin), sample.asked[static_cast<int>(s)].mid());
    p.series.push_back(std::move(want));
    p.series.push_back(
        widths_over_time(t, t.output(s).falling_in(begin, end), begin, Series::Role::measured, std::string(name(s)) + " measured"));
  }
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double jump_us = param(c.check, "jump_us"), back_us = param(c.check, "back_us");
  std::vector<Answer> answers{{jump_us, back_us}, {jump_us, back_us}};
  Findings f;
  std::int64_t walked = 0, wanted = 0;
  const auto planned = legs(c.plan, c.check);
  for (const Traffic& t : all) {
    const auto samples = sent(c.plan, t, param(c.check, "input_us"));
    for (const Leg& leg : planned) {
      ++wanted;
      const auto marks = t.marks(leg.label);
      if (marks.empty()) continue;
      BoardTime end = t.segment().end;
      for (const auto* mark : t.marks(kEnd))
        if (mark->at > marks.front()->at) end = std::min(end, t.end_of(*mark));
      const BoardTime begin = marks.front()->at;
      std::size_t jumps = 0;
      for (const Side s : kSides) {
        const auto before = answers[static_cast<std::size_t>(s)].jumps.size();
        follow(c, t, samples, s, begin, end, answers[static_cast<std::size_t>(s)]);
        jumps += answers[static_cast<std::size_t>(s)].jumps.size() - before;
      }
      const auto fewest = std::min(t.output(Side::left).falling_in(begin, end).size(), t.output(Side::right).falling_in(begin, end).size());
      walked += t.ms(end - begin) / c.plan.spec.frame.period_high_ms * 0.8 <= static_cast<double>(fewest);
      f.evidence.push_back(t.span(begin, end, leg.label, false));
      if (f.pictures.empty() || (jumps > 0 && f.pictures.size() < 3)) f.pictures.push_back(picture(t, samples, begin, end, leg.label));
    }
  }
  std::vector<Jump> jumps;
  for (const Side s : kSides) {
    const Answer& a = answers[static_cast<std::size_t>(s)];
    f.measures.push_back(a.jump.as_measure(std::string(name(s)) + " furthest jump past the model's", kNeeded));
    f.measures.push_back(a.back.as_measure(std::string(name(s)) + " furthest step back", kNeeded));
    if (!a.jumps.empty())
      f.measures[f.measures.size() - 2].note +=
          "; " + whole(static_cast<std::int64_t>(a.jumps.size())) + " jumps, the first at " + sticks_at(c.plan, a.jumps.front());
    jumps.insert(jumps.end(), a.jumps.begin(), a.jumps.end());
  }
  if (walked < wanted) {
    f.measures.push_back(none_allowed("sweeps with too few pulses", wanted - walked, wanted, "sweeps"));
    withhold(f.measures.back());
  }
  std::vector<Span> failing;
  for (const Jump& j : jumps)
    if (failing.size() < kSpansShown) failing.push_back(j.traffic->span(j.begin, j.end, "jump by " + num(j.by_us, 0) + " us", true));
  f.evidence.insert(f.evidence.begin(), failing.begin(), failing.end());
  name_causes(c, jumps, f);
  f.when_passed = "On fine sweeps through the whole stick square the outputs move without a jump or a step back.";
  f.when_failed = "A small movement of a stick can throw the vehicle.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kMonotonic{"monotonic", "fine sweeps through the stick square: no step back, no jump between neighbouring positions",
                           compose, judge};

}  // namespace midstick::judge
