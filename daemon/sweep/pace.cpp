#include "daemon/sweep/pace.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/line_fit.hpp"
#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::sweep {
namespace {

constexpr double kFinalMs = 400;  ///< the end of a throw, when everything has settled
constexpr double kOffUs = 8;  ///< further from its final width than this, an output has not settled; a controller misreads by up to 4 us
constexpr double kFollowUs = 30;  ///< of a nudge's 250 us
constexpr int kSlewedFrames = 4;  ///< a change that takes fewer frames is a step

double median_us(const std::vector<Moving>& pulses, double from_ms) {
  std::vector<double> us;
  for (const Moving& m : pulses)
    if (m.ms >= from_ms) us.push_back(m.us);
  return us.empty() ? std::nan("") : statistics::summarise(us).median;
}

/// When the last pulse that was not yet as at the end rose, ms after the leg's begin; 0: it never was off. A single pulse that is off among
/// others that are not is noise, unless it is the first.
double settled_ms(const std::vector<Moving>& pulses, double length_ms) {
  const double last = median_us(pulses, length_ms - kFinalMs);
  double at = 0;
  bool before = true;
  for (const Moving& m : pulses) {
    const bool off = std::abs(m.us - last) > kOffUs;
    if (off && before) at = m.ms;
    before = off;
  }
  return at;
}

/// Slope of the middle of a change from one width to another, us a second; 0 when too few frames saw it.
Value slope(const std::vector<Moving>& pulses, double from_us, double to_us) {
  std::vector<double> x, y;
  for (const Moving& m : pulses) {
    const double share = (m.us - from_us) / (to_us - from_us);
    if (share > 0.1 && share < 0.9) x.push_back(m.ms / 1e3), y.push_back(m.us);
  }
  if (x.size() < static_cast<std::size_t>(kSlewedFrames)) return {};
  const auto line = statistics::fit_line(x, y);
  return line ? Value{std::abs(line->slope), statistics::student_t95(line->dof) * line->u_slope} : Value{};
}

/// How long an output on its way from one side to the other stood at neutral.
Value rest_ms(const std::vector<Moving>& pulses, double neutral_us, double frame_ms) {
  double first = -1, last = -1;
  for (const Moving& m : pulses)
    if (std::abs(m.us - neutral_us) <= kOffUs) last = m.ms, first = first < 0 ? m.ms : first;
  return last - first > kSlewedFrames * frame_ms ? Value{last - first + frame_ms, judge::rectangular_uncertainty(frame_ms)} : Value{};
}

void larger(Value& seen, const Value& now) {
  if (now.value > seen.value) seen = now;
}

class Probing {
 public:
  Probing(const Lines& lines, const std::vector<Leg>& legs, const Settings& settings) : lines_(lines), legs_(legs), settings_(settings) {}

  void frames(Probed& p) const {
    for (std::size_t o = 0; o < lines_.outputs(); ++o) {
      std::vector<double> periods;
      const auto all = lines_.output(o).all();
      for (std::size_t i = 1; i < all.size(); ++i) periods.push_back(lines_.ms(all[i].rise - all[i - 1].rise));
      p.frame_ms.push_back(statistics::summarise(periods).median);
      p.pace.output_ms = std::max(p.pace.output_ms, p.frame_ms.back());
    }
  }

  /// Sets arm_ms and the outputs' neutral; false when nothing followed.
  bool arming(Probed& p) const {
    for (std::size_t l = 1; l < legs_.size(); ++l) {
      if (legs_[l].label != kNudge) continue;
      const double rest = lines_.ms(legs_[l - 1].end - legs_[l - 1].begin);
      for (std::size_t o = 0; o < lines_.outputs(); ++o) {
        const double before = median_us(moving(lines_, legs_[l - 1], o, 0), rest / 2);
        const double now = median_us(moving(lines_, legs_[l], o, 0), lines_.ms(legs_[l].end - legs_[l].begin) / 2);
        if (std::abs(now - before) > kFollowUs && p.pace.arm_ms == 0) p.pace.arm_ms = rest;
      }
      if (p.pace.arm_ms == 0) continue;
      for (std::size_t o = 0; o < lines_.outputs(); ++o) p.neutral_us.push_back(median_us(moving(lines_, legs_[l - 1], o, 0), rest / 2));
      return true;
    }
    return false;
  }

  void input(std::size_t i, const std::string& name, Probed& p) const {
    std::vector<Slew> slews(lines_.outputs());
    double before = settings_.centre_us;
    for (const Leg& leg : legs_) {
      if (leg.asked.size() <= i) continue;
      const double from = std::exchange(before, leg.asked[i]);
      const bool small = leg.label == kSmall + name;
      if (!small && leg.label != kThrow + name) continue;
      for (std::size_t o = 0; o < lines_.outputs(); ++o)
        answer(p, slews[o], moving(lines_, leg, o, 0),
               {lines_.ms(leg.end - leg.begin), from, leg.asked[i], p.neutral_us[o], p.frame_ms[o], small});
    }
    p.slew.push_back(std::move(slews));
  }

 private:
  struct Step {
    double length_ms, from_us, to_us, neutral_us, frame_ms;
    bool small;
  };

  void answer(Probed& p, Slew& slew, const std::vector<Moving>& pulses, const Step& step) const {
    const double took = settled_ms(pulses, step.length_ms), c = settings_.centre_us;
    if (step.small) {
      p.pace.small_ms = std::max(p.pace.small_ms, took);
    } else if ((step.from_us - c) * (step.to_us - c) < 0) {
      p.pace.turn_ms = std::max(p.pace.turn_ms, took);
      larger(slew.rest_ms, rest_ms(pulses, step.neutral_us, step.frame_ms));
    } else if (std::abs(step.to_us - c) > std::abs(step.from_us - c)) {
      p.pace.out_ms = std::max(p.pace.out_ms, took);
      if (const double to = median_us(pulses, step.length_ms - kFinalMs); std::abs(to - step.neutral_us) > kFollowUs)
        larger(slew.out_us_s, slope(pulses, step.neutral_us, to));
    } else {
      p.pace.back_ms = std::max(p.pace.back_ms, took);
      if (!pulses.empty() && std::abs(pulses.front().us - step.neutral_us) > kFollowUs)
        larger(slew.back_us_s, slope(pulses, pulses.front().us, step.neutral_us));
    }
  }

  const Lines& lines_;
  const std::vector<Leg>& legs_;
  const Settings& settings_;
};

}  // namespace

Result<Probed> pace_of(const Lines& lines, const std::vector<Leg>& legs, const script::ControllerDescription& controller,
                       const Settings& settings) {
  Probed p;
  for (std::size_t o = 0; o < lines.outputs(); ++o)
    if (lines.output(o).all().size() < 10)
      return Error{ErrorKind::bench_unfit, "output \"" + controller.outputs[o].name + "\" gave no pulses; is it wired to line " +
                                               controller.outputs[o].line + ", and the controller supplied?"};
  const Probing probing(lines, legs, settings);
  probing.frames(p);
  if (!probing.arming(p))
    return Error{ErrorKind::bench_unfit, "no output followed the stick \"" + controller.inputs.front().name + "\" after " +
                                             std::to_string(static_cast<int>(settings.arm_ms * 4)) +
                                             " ms at neutral; is it armed some other way, or does it want longer?"};
  for (std::size_t i = 0; i < controller.inputs.size(); ++i) probing.input(i, controller.inputs[i].name, p);
  return p;
}

}  // namespace midstick::sweep
