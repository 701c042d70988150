// Output skew: steps that move both sides. Left and right must carry the new width in frames no further apart than one output frame, and
// as a rule in the same one: a vehicle whose sides answer apart swerves at every change of speed (limits common practice, no source).
//
// The skew of a step is the time between the rises of the first pulses, left and right, that have left their old width.
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/holds.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;  // steps
constexpr double kClearStep = 3;      // a step is used where the spec moves both outputs by this many thresholds
constexpr double kWholeFrame = 0.15;  // a skew this near a whole number of frames, in frames, is one
constexpr std::size_t kSpansShown = 5;

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  sticks.frame().dither_us = std::min(param(check, "dither_us"), plan.frame.period_us / 10);
  const double hold = std::max(param(check, "hold_ms"), plan.spec.latency_max_ms + 4 * plan.spec.frame.period_high_ms);
  const double throttle[] = {param(check, "drive_low_percent"), param(check, "drive_high_percent")};
  sticks.hold(throttle[0], 0, 2 * hold, "start");
  for (int i = 1; i <= count_param(check, "steps"); ++i) sticks.hold(throttle[i % 2], 0, hold, "step");
  sticks.hold(0, 0, hold, "back to neutral");
  return sticks.take();
}

/// One step as both sides answered it.
struct Step {
  const Traffic* traffic;
  BoardTime begin, end;
  std::optional<Pulse> first[2];  ///< that carries the new width
  double apart_ms{0};             ///< rise of the right one after the left one's
  double uncertainty_ms{0};
  bool both() const { return first[0] && first[1]; }
};

std::optional<Pulse> first_moved(const Context& c, const Traffic& t, Side side, const Hold& a, const Hold& b) {
  const auto before = t.output(side).within(a.begin + t.ticks_ms(c.plan.spec.latency_max_ms), a.end);
  if (before.size() < 2) return {};
  const double old = statistics::summarise(widths_of(t, before).us).median;
  for (const Pulse& p : t.output(side).falling_in(a.end, b.end))
    if (std::abs(t.us(p) - old) > param(c.check, "moved_us")) return p;
  return {};
}

bool moves_both(const Context& c, const Hold& a, const Hold& b) {
  const auto from = mixer::expected(c.plan.spec, a.throttle_us, a.steering_us),
             to = mixer::expected(c.plan.spec, b.throttle_us, b.steering_us);
  const double clear = kClearStep * param(c.check, "moved_us");
  return std::abs(to.left_us - from.left_us) >= clear && std::abs(to.right_us - from.right_us) >= clear;
}

std::vector<Step> steps(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Step> found;
  for (const Traffic& t : all) {
    const auto rests = holds(t, still_us(c.plan, c.check));
    for (std::size_t i = 1; i < rests.size(); ++i) {
      const Hold &a = rests[i - 1], &b = rests[i];
      if (t.ms(b.begin - a.end) > c.plan.frame.period_us / 1e3 || !moves_both(c, a, b)) continue;
      Step s{&t, a.end, b.end, {first_moved(c, t, Side::left, a, b), first_moved(c, t, Side::right, a, b)}, 0, 0};
      if (!s.first[0] && !s.first[1]) continue;  // how late, or whether at all, is the latency check's matter
      if (s.both()) {
        const BoardSpan apart = s.first[1]->rise - s.first[0]->rise;
        s.apart_ms = t.ms(apart);
        s.uncertainty_ms = span_uncertainty_us(t.capture(), apart, s.first[0]->rise_half, s.first[1]->rise_half) / 1e3;
      }
      found.push_back(s);
    }
  }
  return found;
}

double frame_ms(const std::vector<Traffic>& all) {
  std::vector<double> periods;
  for (const Traffic& t : all) {
    const auto pulses = t.output(Side::left).all();
    for (std::size_t i = 1; i < pulses.size(); ++i) periods.push_back(t.ms(pulses[i].rise - pulses[i - 1].rise));
  }
  return statistics::summarise(periods).median;
}

/// Each left rise to the nearest right one, ms: how the two outputs are laid out in a frame.
statistics::Summary rise_skew(const std::vector<Traffic>& all) {
  std::vector<double> apart;
  for (const Traffic& t : all)
    for (const Pulse& l : t.output(Side::left).all()) {
      const auto right = t.output(Side::right).all();
      const auto next = std::partition_point(right.begin(), right.end(), [&](const Pulse& p) { return p.rise < l.rise; });
      double nearest = next == right.end() ? 1e9 : t.ms(next->rise - l.rise);
      if (next != right.begin() && t.ms(l.rise - (next - 1)->rise) < nearest) nearest = -t.ms(l.rise - (next - 1)->rise);
      apart.push_back(nearest);
    }
  return statistics::summarise(apart);
}

void name_cause(const std::vector<Step>& all, double frame, Findings& f) {
  std::int64_t whole_frames = 0, left_first = 0, n = 0;
  for (const Step& s : all) {
    if (!s.both()) continue;
    ++n;
    const double frames = std::abs(s.apart_ms) / frame;
    if (std::lround(frames) < 1 || std::abs(frames - std::round(frames)) > kWholeFrame) continue;
    ++whole_frames, left_first += s.apart_ms > 0;
  }
  if (whole_frames == 0) return;
  f.causes.push_back({"sides-apart", 0.5 + 0.5 * static_cast<double>(whole_frames) / static_cast<double>(n),
                      whole(whole_frames) + " of " + whole(n) + " steps reach one side whole output frames of " + num(frame) +
                          " ms before the other, " + whole(left_first) + " of them the left first"});
}

Picture picture(const std::vector<Step>& all, double median_limit, double longest_limit) {
  Picture p;
  p.title = "Time from the left output's new width to the right one's";
  p.x_label = "step";
  p.y_label = "right after left, ms";
  Series apart = series(Series::Role::measured, Series::Style::dots, "step");
  for (std::size_t i = 0; i < all.size(); ++i)
    if (all[i].both()) point(apart, static_cast<double>(i + 1), all[i].apart_ms);
  p.series.push_back(std::move(apart));
  const double last = static_cast<double>(all.size()) + 1;
  for (const double sign : {1.0, -1.0}) {
    p.series.push_back(level(Series::Role::limit, sign > 0 ? "limit of the median" : "", 0, last, sign * median_limit));
    p.series.push_back(level(Series::Role::limit, sign > 0 ? "limit of the longest" : "", 0, last, sign * longest_limit));
  }
  return p;
}

void show(const std::vector<Step>& all, double median_limit, Findings& f) {
  std::vector<const Step*> worst;
  for (const Step& s : all) worst.push_back(&s);
  std::stable_sort(worst.begin(), worst.end(), [](const Step* a, const Step* b) {
    return a->both() != b->both() ? !a->both() : std::abs(a->apart_ms) > std::abs(b->apart_ms);
  });
  for (std::size_t i = 0; i < worst.size() && i < kSpansShown; ++i) {
    const Step& s = *worst[i];
    if (!s.both()) {
      f.evidence.push_back(
          s.traffic->span(s.begin, s.end, std::string("only the ") + (s.first[0] ? "left" : "right") + " output moved", true));
      continue;
    }
    const BoardTime end = std::max(s.first[0]->fall, s.first[1]->fall);
    f.evidence.push_back(s.traffic->span(s.begin, end, "sides " + num(s.apart_ms, 2) + " ms apart", std::abs(s.apart_ms) > median_limit));
  }
  if (!worst.empty()) {
    const Step& s = *worst.front();
    f.pictures.push_back(time_picture(*s.traffic, s.begin - s.traffic->ticks_ms(60), std::min(s.end, s.begin + s.traffic->ticks_ms(160)),
                                      "The step with the largest skew"));
  }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = steps(c, all);
  const double frame = frame_ms(all);
  const double median_limit = param(c.check, "median_frames") * frame, longest_limit = param(c.check, "longest_frames") * frame;
  std::vector<double> apart;
  std::int64_t one_sided = 0;
  double u = 0;
  for (const Step& s : found) {
    one_sided += !s.both();
    if (!s.both()) continue;
    apart.push_back(std::abs(s.apart_ms));
    u = std::max(u, s.uncertainty_ms);
  }
  const statistics::Summary s = statistics::summarise(apart), rises = rise_skew(all);
  Findings f;
  f.measures.push_back(measure("median skew of new widths", s.median, {}, median_limit, u, "ms", s.samples, kNeeded));
  f.measures.push_back(measure("longest skew of new widths", s.max, {}, longest_limit, u, "ms", s.samples, kNeeded));
  f.measures.front().note += (f.measures.front().note.empty() ? "" : "; ") +
                             ("left and right rise " + num(rises.median, 3) + " ms apart (" + num(rises.min, 3) + " to " +
                              num(rises.max, 3) + "), +-" + num(u, 4) + " ms; the output frame is " + num(frame, 2) + " ms");
  f.measures.push_back(
      none_allowed("steps that moved one side only", one_sided, static_cast<std::int64_t>(found.size()), "steps", kNeeded));
  show(found, median_limit, f);
  f.pictures.push_back(picture(found, median_limit, longest_limit));
  name_cause(found, frame, f);
  f.when_passed = "Both sides take up a new stick position together: " + num(s.median, 2) + " ms apart at the median, " + num(s.max, 2) +
                  " ms at the longest.";
  f.when_failed = "The vehicle swerves when its speed changes: one side answers before the other.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kOutputSkew{"output-skew", "time between the left and the right output: both follow the stick in the same frame", compose,
                            judge};

}  // namespace midstick::judge
