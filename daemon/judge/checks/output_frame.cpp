// Output frame: steady sticks at neutral and driven; period of the output pulses and noise of their widths (catalogue faults 15, 36, 37,
// 42; figures common practice, no source).
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/holds.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr const char* kMarks[] = {"neutral", "driven"};
constexpr std::int64_t kNeeded = 50;      // pulses on each output
constexpr std::int64_t kFullTail = 1000;  // so many are needed before a 99.9 % point is more than the largest value
constexpr std::size_t kSpansShown = 5;
constexpr double kHidden = 0.3;                  // noise inside the dead band in parts of that outside it, while it is the input's own
constexpr double kQuietUs = 1, kMadeHereUs = 2;  // sigma inside the dead band: an output without noise of its own; one with it
constexpr double kSteadyFrames = 0.02;           // spread of frames, in parts, that a wrong rate has and a stall has not
constexpr double kShortestStretchMs = 500;       // of a builder's own script

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  if (check.script) return sticks.play(*check.script).take();
  const double length = param(check, "settle_ms") + param(check, "for_ms");
  sticks.hold(0, 0, length, kMarks[0]);
  sticks.hold(param(check, "drive_percent"), 0, length, kMarks[1]);
  sticks.hold(0, 0, param(check, "settle_ms"), "back to neutral");
  return sticks.take();
}

struct Stretch {
  const Traffic* traffic;
  BoardTime begin, end;
  std::string label;
};

/// Settled stretches of steady sticks.
std::vector<Stretch> stretches(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Stretch> found;
  for (const Traffic& t : all) {
    const BoardSpan settle = t.ticks_ms(param(c.check, "settle_ms"));
    if (c.check.script) {
      for (const Hold& h : holds(t, still_us(c.plan, c.check)))
        if (t.ms(h.end - h.begin - settle) > kShortestStretchMs) found.push_back({&t, h.begin + settle, h.end, "steady sticks"});
      continue;
    }
    for (const char* label : kMarks)
      for (const auto* mark : t.marks(label)) found.push_back({&t, mark->at + settle, t.end_of(*mark), label});
  }
  return found;
}

/// Widths around the median of their stretch.
struct Noise {
  double variance_sum{0}, degrees{0};
  std::int64_t longer{0}, shorter{0};  ///< widths beyond the noise allowed
  double sigma() const { return degrees > 0 ? std::sqrt(variance_sum / degrees) : 0; }
};

struct SideNumbers {
  std::vector<double> periods_ms, off_us;  ///< widths from the median of their own stretch
  std::int64_t beyond{0};                  ///< widths off by more than the noise allowed and their own uncertainty
  double width_uncertainty{0};
  std::uint16_t rise_half{1};
  double variance_sum{0}, degrees{0};
  Noise at[2];  ///< by kMarks: inside the dead band, and driven
};

void measure_stretch(const Stretch& st, Side side, double noise, SideNumbers& n, Findings& f) {
  const Traffic& t = *st.traffic;
  const auto pulses = t.output(side).within(st.begin, st.end);
  const Widths w = widths_of(t, pulses);
  const statistics::Summary s = statistics::summarise(w.us);
  n.width_uncertainty = std::max(n.width_uncertainty, w.uncertainty);
  if (s.samples > 1) n.variance_sum += s.sd * s.sd * static_cast<double>(s.samples - 1), n.degrees += static_cast<double>(s.samples - 1);
  for (const double us : w.us) n.off_us.push_back(us - s.median);
  Noise* at = st.label == kMarks[0] ? &n.at[0] : st.label == kMarks[1] ? &n.at[1] : nullptr;
  if (at && s.samples > 1)
    at->variance_sum += s.sd * s.sd * static_cast<double>(s.samples - 1), at->degrees += static_cast<double>(s.samples - 1);
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    n.rise_half = std::max(n.rise_half, pulses[i].rise_half);
    if (i > 0) n.periods_ms.push_back(t.ms(pulses[i].rise - pulses[i - 1].rise));
    const double off = t.us(pulses[i]) - s.median;
    if (std::abs(off) <= noise + t.width_uncertainty(pulses[i])) continue;
    ++n.beyond;
    if (at) ++(off > 0 ? at->longer : at->shorter);
    if (f.evidence.size() >= kSpansShown) continue;
    f.evidence.push_back(t.span(pulses[i].rise, pulses[i].fall, std::string(name(side)) + " width " + num(off) + " us off", true));
    f.evidence.back().severity = std::abs(off);
  }
}

void judge_side(const Context& c, const std::vector<Stretch>& all, Side side, SideNumbers& n, Findings& f) {
  const double noise = param(c.check, "width_noise_us");
  for (const Stretch& st : all) measure_stretch(st, side, noise, n, f);
  const std::string who = name(side);
  const statistics::Summary period = statistics::summarise(n.periods_ms);
  const auto frames = period.samples, pulses = static_cast<std::int64_t>(n.off_us.size());
  const double low = param_or(c.check, "period_low_ms", c.plan.spec.frame.period_low_ms);
  const double high = param_or(c.check, "period_high_ms", c.plan.spec.frame.period_high_ms);
  const auto& clock = c.capture.clock;
  const auto u = [&](double ms) {
    return span_uncertainty_us(c.capture, clock.ticks({static_cast<std::int64_t>(ms * 1e6)}), n.rise_half, n.rise_half) / 1e3;
  };
  f.measures.push_back(measure(who + " shortest period", period.min, low, {}, u(period.min), "ms", frames, kNeeded));
  f.measures.push_back(measure(who + " longest period", period.max, {}, high, u(period.max), "ms", frames, kNeeded));
  // Pooled within the stretches, so that their different widths are not taken for noise. u(s) = s / sqrt(2 nu) (JCGM 100:2008 E.4.3).
  const double sigma = n.degrees > 0 ? std::sqrt(n.variance_sum / n.degrees) : 0;
  f.measures.push_back(measure(who + " width sigma", sigma, {}, param(c.check, "sigma_us"),
                               n.degrees > 0 ? 2 * sigma / std::sqrt(2 * n.degrees) : 0, "us", pulses, kNeeded));
  std::vector<double> size;
  for (const double off : n.off_us) size.push_back(std::abs(off));
  f.measures.push_back(
      measure(who + " 99.9 % width noise", statistics::percentile(size, 99.9), {}, noise, n.width_uncertainty, "us", pulses, kNeeded));
  if (pulses < kFullTail && f.measures.back().verdict != Verdict::inconclusive)
    f.measures.back().note = "of " + whole(pulses) + " pulses this is the largest; " + whole(kFullTail) + " are needed for a 99.9 % point";
  f.measures.push_back(none_allowed(who + " widths beyond " + num(noise, 0) + " us", n.beyond, pulses, "pulses", kNeeded));
}

/// Movements of an output too short for the board to read, as it reported them.
void judge_unseen(const Context& c, const std::vector<Stretch>& all, Side side, std::int64_t pulses, Findings& f) {
  std::int64_t seen = 0;
  for (const Stretch& st : all)
    for (const auto& e : c.capture.events)
      if (e.kind == capture::EventKind::unseen_runt && e.at >= st.begin && e.at <= st.end &&
          (e.value == st.traffic->line(side) || e.value == 255)) {
        ++seen;
        if (f.evidence.size() < kSpansShown) f.evidence.push_back(st.traffic->span(e.since, e.at, std::string(name(side)) + " runt", true));
      }
  if (seen > 0) f.measures.push_back(none_allowed(std::string(name(side)) + " runts too short to read", seen, pulses, "pulses"));
}

/// A rate that is wrong is wrong in every frame; a stall lengthens a few.
void name_rate(const Context& c, const SideNumbers (&sides)[2], Findings& f) {
  const double low = param_or(c.check, "period_low_ms", c.plan.spec.frame.period_low_ms);
  const double high = param_or(c.check, "period_high_ms", c.plan.spec.frame.period_high_ms);
  const statistics::Summary left = statistics::summarise(sides[0].periods_ms), right = statistics::summarise(sides[1].periods_ms);
  const auto wrong = [&](const statistics::Summary& s) { return s.median < low || s.median > high; };
  if (left.samples == 0 || right.samples == 0 || !wrong(left) || !wrong(right)) return;
  const bool steady = left.max - left.min < kSteadyFrames * left.median;
  f.causes.push_back({"output-rate", steady ? 0.95 : 0.7,
                      "frames of " + num(left.median, 2) + " ms, " + num(left.min, 2) + " to " + num(left.max, 2) +
                          " ms; the spec asks for " + num(low) + " to " + num(high) + " ms"});
}

/// Inside the dead band the input does not reach the output: noise that vanishes there came in with the input, noise that stays was made on
/// the way out. An edge that waits for another interrupt is late, never early, so widths go to one side.
void name_noise(const Context& c, const SideNumbers (&sides)[2], Findings& f) {
  const auto pooled = [&](int i) {
    Noise n = sides[0].at[i];
    n.variance_sum += sides[1].at[i].variance_sum, n.degrees += sides[1].at[i].degrees;
    n.longer += sides[1].at[i].longer, n.shorter += sides[1].at[i].shorter;
    return n;
  };
  const Noise rest = pooled(0), driven = pooled(1);
  const bool noisy = sides[0].beyond + sides[1].beyond > 0 || std::max(rest.sigma(), driven.sigma()) > param(c.check, "sigma_us");
  const bool banded =
      c.plan.spec.throttle.dead_band != mixer::DeadBandKind::none && c.plan.spec.steering.dead_band != mixer::DeadBandKind::none;
  if (!noisy || rest.degrees == 0 || driven.degrees == 0 || driven.sigma() <= 0) return;
  const double part = rest.sigma() / driven.sigma();
  const std::string sigmas = "width sigma is " + num(driven.sigma(), 2) + " us driven and " + num(rest.sigma(), 2) + " us at neutral";
  if (banded && rest.sigma() < kQuietUs && part < kHidden)
    f.causes.push_back({"coarse-capture", 0.9, sigmas + ", inside the dead band, where the input does not reach the output"});
  const auto longer = rest.longer + driven.longer, shorter = rest.shorter + driven.shorter;
  const bool one_sided = longer + shorter > 0 && std::min(longer, shorter) * 5 <= longer + shorter;
  if (rest.sigma() < kMadeHereUs || (!banded && !one_sided)) return;
  f.causes.push_back({"interrupt-jitter", one_sided ? 0.9 : 0.6,
                      sigmas + (banded ? ", so the input has no part in it; " : "; ") + whole(longer) + " outliers are longer and " +
                          whole(shorter) + " shorter"});
}

Picture histogram(const std::vector<double>& off, Side side, double noise) {
  Picture p;
  p.title = std::string(side == Side::left ? "Left" : "Right") + " output: how far each width is from the median";
  p.x_label = "off the median, us";
  p.y_label = "pulses";
  const double reach =
      std::ceil(std::max(noise, off.empty() ? 0
                                            : std::abs(*std::max_element(off.begin(), off.end(),
                                                                         [](double a, double b) { return std::abs(a) < std::abs(b); })))) +
      1;
  const int bins = std::min(400, static_cast<int>(2 * reach) * 2);
  std::vector<double> count(static_cast<std::size_t>(bins));
  for (const double x : off) ++count[static_cast<std::size_t>(std::clamp((x + reach) / (2 * reach) * bins, 0.0, bins - 1.0))];
  Series s = series(Series::Role::measured, Series::Style::steps, "pulses");
  for (int i = 0; i < bins; ++i) point(s, -reach + 2 * reach * i / bins, count[static_cast<std::size_t>(i)]);
  const double top = *std::max_element(count.begin(), count.end());
  Series limit = series(Series::Role::limit, Series::Style::line, "limit");
  for (const double x : {-noise, noise}) point(limit, x, 0), point(limit, x, top), gap(limit);
  p.series = {std::move(s), std::move(limit)};
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto steady = stretches(c, all);
  Findings f;
  SideNumbers numbers[2];
  for (const Side s : kSides) {
    SideNumbers& n = numbers[static_cast<int>(s)];
    judge_side(c, steady, s, n, f);
    judge_unseen(c, steady, s, static_cast<std::int64_t>(n.off_us.size()), f);
  }
  name_rate(c, numbers, f);
  name_noise(c, numbers, f);
  const bool failing = overall(f.measures) == Verdict::fail && f.evidence.empty();
  for (const Stretch& st : steady) f.evidence.push_back(st.traffic->span(st.begin, st.end, st.label, failing));
  for (const Side s : kSides) f.pictures.push_back(histogram(numbers[static_cast<int>(s)].off_us, s, param(c.check, "width_noise_us")));
  f.when_passed = "Output frames come in time and their widths are steady.";
  f.when_failed = "ESCs see an unsteady or badly timed signal.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kOutputFrame{"output-frame", "steady sticks: output frame period and width noise", compose, judge};

}  // namespace midstick::judge
