// Clock ratio: the controller's clock against the bench's. A clock that is off scales every width it makes, and its frames, by one factor;
// a shifted neutral, a wrong end or another frame rate do not (figures common practice, no source; catalogue fault 41).
//
// Read where the spec's answer does not depend on the exact input, so that the controller's own reading of it, off by the same clock, drops
// out: inside the dead band, and with the throttle past each end. Signs that disagree are no clock error; of those that agree the
// clock is off by the least of them.
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;  // pulses at a position, on each output
constexpr double kPastEnd = 104;      // percent: past the end by more than a bad clock misreads it
constexpr double kLeastBandUs = 10;   // a dead band narrower than what a bad clock misreads says nothing about neutral
constexpr double kAcceptMarginUs = 10;
constexpr double kMostNominalOff = 0.05;  // a frame further from the nominal one is another frame, no clock error
constexpr double kWorthALook = 0.1;       // percent

struct Position {
  const char* mark;
  double percent;
};
constexpr Position kPositions[] = {{"neutral", 0}, {"past the forward end", kPastEnd}, {"past the reverse end", -kPastEnd}};

double position_us(const script::Plan& plan, const Position& p) {
  const double us = script::width_of_percent(plan.spec.throttle, p.percent);
  return std::clamp(us, plan.spec.receiver.accept_low_us + kAcceptMarginUs, plan.spec.receiver.accept_high_us - kAcceptMarginUs);
}

double settle_after_ms(const script::Plan& plan, const script::PlannedCheck& check) {
  return param(check, "settle_ms") + 1e3 * mixer::longest_slew_seconds(plan.spec);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const double settle = settle_after_ms(plan, check), length = settle + param(check, "for_ms"), centre = plan.spec.steering.centre_us;
  for (const Position& p : kPositions) {
    sticks.hold_us(position_us(plan, p), centre, length, p.mark);
    sticks.hold(0, 0, settle, "between");
  }
  return sticks.take();
}

/// Something that a clock error scales, and how far it is from what it should be.
struct Sign {
  std::string what;
  double percent, uncertainty;  ///< off by, U (95 %); percent
};

/// Mean width of one output at one position.
struct Level {
  std::string what;
  double asked, mean, uncertainty;
};

bool rests(const mixer::InputSpec& in) { return in.dead_band != mixer::DeadBandKind::none && in.dead_band_half_us >= kLeastBandUs; }

std::vector<Level> levels(const Context& c, const std::vector<Traffic>& all, std::int64_t& pulses) {
  std::vector<Level> found;
  for (const Position& p : kPositions) {
    if (p.percent == 0 && !(rests(c.plan.spec.throttle) && rests(c.plan.spec.steering))) continue;
    const auto y = mixer::expected(c.plan.spec, position_us(c.plan, p), c.plan.spec.steering.centre_us);
    for (const Side s : kSides) {
      std::vector<double> us;
      double u = 0;
      for (const Traffic& t : all)
        for (const auto* mark : t.marks(p.mark)) {
          const auto within = t.output(s).within(mark->at + t.ticks_ms(settle_after_ms(c.plan, c.check)), t.end_of(*mark));
          const bool fine = 2 * std::count_if(within.begin(), within.end(), [](const Pulse& q) { return q.crowded; }) <=
                            static_cast<std::ptrdiff_t>(within.size());
          for (const Pulse& q : within) {
            if (fine && q.crowded) continue;
            us.push_back(c.capture.clock.us(q.width()));  // true time, whatever the judge allows the clock elsewhere
            u = std::max(u, t.width_uncertainty(q));
          }
        }
      const statistics::Summary sum = statistics::summarise(us);
      if (sum.samples < kNeeded) continue;
      pulses += sum.samples;
      found.push_back({std::string(name(s)) + " " + p.mark, s == Side::left ? y.left_us : y.right_us, sum.mean,
                       mean_uncertainty(sum.sd, sum.samples, u)});
    }
  }
  return found;
}

/// Widths as ratios, and the slope over their whole range, which an offset common to all leaves alone.
std::vector<Sign> of_widths(const std::vector<Level>& all) {
  std::vector<Sign> signs;
  for (const Level& l : all) signs.push_back({l.what, (l.mean / l.asked - 1) * 100, l.uncertainty / l.asked * 100});
  const auto [low, high] = std::minmax_element(all.begin(), all.end(), [](const Level& a, const Level& b) { return a.asked < b.asked; });
  const double span = high->asked - low->asked;
  if (span > 0)
    signs.push_back(
        {"range of widths", ((high->mean - low->mean) / span - 1) * 100, std::hypot(high->uncertainty, low->uncertainty) / span * 100});
  return signs;
}

std::optional<Sign> of_frames(const Context& c, const std::vector<Traffic>& all) {
  const double nominal = c.plan.spec.frame.nominal_ms;
  if (nominal <= 0) return {};
  std::vector<double> ms;
  double u = 0;
  for (const Traffic& t : all) {
    const auto pulses = t.output(Side::left).all();
    for (std::size_t i = 1; i < pulses.size(); ++i) {
      const BoardSpan frame = pulses[i].rise - pulses[i - 1].rise;
      const double period = c.capture.clock.us(frame) / 1e3;
      if (std::abs(period / nominal - 1) > kMostNominalOff) continue;
      ms.push_back(period);
      u = std::max(u, span_uncertainty_us(c.capture, frame, pulses[i].rise_half, pulses[i - 1].rise_half) / 1e3);
    }
  }
  const statistics::Summary s = statistics::summarise(ms);
  if (s.samples < kNeeded) return Sign{"frames", 0, 100};  // no frame near the nominal one: not a clock's doing
  return Sign{"frames", (s.median / nominal - 1) * 100, u / nominal * 100};
}

/// The least of signs that agree in direction; nothing off when they disagree.
Sign clock_of(const std::vector<Sign>& signs) {
  const Sign* least = &signs.front();
  bool up = false, down = false;
  for (const Sign& s : signs) {
    if (std::abs(s.percent) < std::abs(least->percent)) least = &s;
    up = up || s.percent > s.uncertainty, down = down || s.percent < -s.uncertainty;
  }
  return up && down ? Sign{"they disagree", 0, least->uncertainty} : *least;
}

std::string listed(const std::vector<Sign>& signs) {
  std::string text;
  for (const Sign& s : signs) text += (text.empty() ? "" : ", ") + s.what + " " + num(s.percent, 3) + " %";
  return text;
}

Picture picture(const std::vector<Level>& all, double limit) {
  Picture p;
  p.title = "Each width against the one asked for: a clock error is a level line away from 0";
  p.x_label = "width asked for, us";
  p.y_label = "off, percent";
  Series off = series(Series::Role::measured, Series::Style::dots, "output width");
  double low = 1e9, high = 0;
  for (const Level& l : all) {
    point(off, l.asked, (l.mean / l.asked - 1) * 100);
    low = std::min(low, l.asked), high = std::max(high, l.asked);
  }
  p.series.push_back(std::move(off));
  p.series.push_back(level(Series::Role::limit, "limit", low, high, limit));
  p.series.push_back(level(Series::Role::limit, "", low, high, -limit));
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double limit = param_or(c.check, "limit_percent", c.plan.spec.clock_percent > 0 ? c.plan.spec.clock_percent : 0.5);
  std::int64_t pulses = 0;
  const auto read = levels(c, all, pulses);
  Findings f;
  if (read.size() < 4) {
    f.measures.push_back(measure("controller's clock off", 0, -limit, limit, 0, "%", 0, kNeeded));
    f.measures.back().note = "too few settled pulses at neutral and past the ends";
    return conclude(c, std::move(f));
  }
  auto signs = of_widths(read);
  const auto frames = of_frames(c, all);
  if (frames) signs.push_back(*frames);
  const Sign clock = clock_of(signs);
  f.measures.push_back(measure("controller's clock off", clock.percent, -limit, limit, clock.uncertainty, "%", pulses, kNeeded));
  auto& m = f.measures.back();
  m.note = "least of: " + listed(signs);
  if (!frames) m.note += "; the mixer spec names no nominal frame, so frames do not speak";
  if (m.verdict == Verdict::pass && std::abs(clock.percent) > kWorthALook)
    m.note += "; more than " + num(kWorthALook) + " % is worth a look";
  for (const Traffic& t : all)
    for (const Position& p : kPositions)
      for (const auto* mark : t.marks(p.mark)) f.evidence.push_back(t.span(mark->at, t.end_of(*mark), p.mark, m.verdict == Verdict::fail));
  f.pictures.push_back(picture(read, limit));
  if (m.verdict == Verdict::fail)
    f.causes.push_back({"clock-off", frames ? 0.95 : 0.8,
                        "widths from " + num(read.front().asked, 0) + " us on" + (frames ? " and frames" : "") +
                            " are all off one way, by " + num(std::abs(clock.percent), 2) + " % at least: " + listed(signs)});
  f.when_passed = "The controller's clock is right within " + percent_text((std::abs(clock.percent) + clock.uncertainty) / 100) + ".";
  f.when_failed = "Every pulse is as wrong as its clock: neutral drifts off the ESC's, and the ends are missed.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kClockRatio{"clock-ratio", "output widths and periods against the bench's clock: is the controller's clock right", compose,
                            judge};

}  // namespace midstick::judge
