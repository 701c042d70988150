// Random sticks: seeded drives with faults of the link mixed in; every output pulse must lie in the envelope of the mixer spec.
//
// Judged from what was really sent, so that any stick script can be played here: a shrunk one, a recorded one. A pulse is outside when it
// is further off than the noise of a single width allows, or when it and its neighbours are all further off than the tolerance (both common
// practice, no source). Outputs must not fall silent where the spec asks for pulses.
#include <algorithm>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/envelope_causes.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/random_script.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;        // pulses that had to follow the sticks
constexpr std::size_t kInARow = 3;          // so many beyond the tolerance are no noise
constexpr double kInputFramesInARow = 1.5;  // and over so many input frames: fast outputs repeat a single misread input often enough
constexpr std::size_t kMostEvidence = 8;    // worst first
constexpr double kAroundMs = 700;           // drawn on either side of the worst

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  if (check.script) return sticks.play(*check.script).take();
  const auto own = static_cast<std::uint64_t>(param_or(check, "seed", -1) + 1);  // 0: not given
  auto script = sticks.take();
  const auto moves = random_moves(plan, param(check, "for_ms"), own ? own : seed, check.params.at("faults").get<bool>());
  script.moves.insert(script.moves.end(), moves.begin(), moves.end());
  return script;
}

struct Silence {
  const Traffic* traffic;
  Side side;
  BoardTime begin, end;
};

struct Watched {
  std::vector<Outlier> outliers;
  std::vector<Silence> silences;
  std::int64_t pulses{0}, followed{0};
  Extreme furthest;
};

bool must_move(const Allowed& a, Side s) {
  const auto i = static_cast<std::size_t>(s);
  return a.duty == Duty::follow && (a.driven[i].low > a.rest[i].high || a.driven[i].high < a.rest[i].low);
}

void watch_widths(const Context& c, const Traffic& t, const Envelope& envelope, double frame_ms, Side side, Watched& w) {
  const double tolerance = param(c.check, "tolerance_us"), noise = param(c.check, "width_noise_us");
  std::vector<Outlier> row;
  const auto close_row = [&] {
    const bool lasting = row.size() >= kInARow && t.ms(row.back().pulse.rise - row.front().pulse.rise) >= kInputFramesInARow * frame_ms;
    for (Outlier& o : row) {
      o.lasting = lasting;
      if (lasting || o.outside_us > noise + t.width_uncertainty(o.pulse)) w.outliers.push_back(o);
    }
    row.clear();
  };
  for (const Pulse& p : t.output(side).all()) {
    const auto allowed = envelope.at(p);
    if (!allowed) continue;
    const double us = t.us(p), off = allowed->outside(side, us);
    ++w.pulses;
    w.followed += must_move(*allowed, side);
    w.furthest.add(t, p, off);
    if (off > tolerance + t.width_uncertainty(p))
      row.push_back({&t, side, p, *allowed, us, off, false});
    else
      close_row();
  }
  close_row();
}

/// Stretches without a rise that are twice as long as the spec's longest frame.
void watch_silence(const Context& c, const Traffic& t, const Envelope& envelope, Side side, Watched& w) {
  const BoardSpan step = t.ticks_ms(c.plan.spec.frame.period_high_ms), longest = step + step;
  BoardTime last = t.segment().begin;
  const auto look = [&](BoardTime until) {
    for (BoardTime from = last; from + longest < until; from = from + step) {
      if (!envelope.must_pulse(from, from + longest)) continue;
      w.silences.push_back({&t, side, from, until});
      return;
    }
  };
  for (const Pulse& p : t.output(side).all()) {
    look(p.rise);
    last = p.rise;
  }
  look(t.segment().end);
}

std::string duty_text(Duty d) {
  switch (d) {
    case Duty::follow:
      return "following the sticks";
    case Duty::stay_safe:
      return "before arming";
    case Duty::lost:
      return "after a loss";
    case Duty::either:
      break;
  }
  return "driving or at rest";
}

std::string told(const Outlier& o) {
  const auto hull = o.allowed.hull(o.side);
  return std::string(name(o.side)) + " " + num(o.us) + " us, allowed " + num(hull.low) + " to " + num(hull.high) + " us, " +
         duty_text(o.allowed.duty);
}

/// Allowed and measured widths of one side, and what was asked of them, around an instant.
Picture picture(const Traffic& t, const Envelope& envelope, Side side, BoardTime middle, const std::string& title) {
  const BoardTime begin = std::max(t.segment().begin, middle - t.ticks_ms(kAroundMs)),
                  end = std::min(t.segment().end, middle + t.ticks_ms(kAroundMs));
  Picture p;
  p.title = title, p.x_label = "time, ms", p.y_label = "pulse width, us";
  p.series.push_back(widths_over_time(t, t.throttle().falling_in(begin, end), begin, Series::Role::input, "throttle"));
  p.series.push_back(widths_over_time(t, t.steering().falling_in(begin, end), begin, Series::Role::input, "steering"));
  const auto pulses = t.output(side).falling_in(begin, end);
  p.series.push_back(widths_over_time(t, pulses, begin, Series::Role::measured, name(side)));
  Series low = series(Series::Role::limit, Series::Style::steps, std::string(name(side)) + " allowed"),
         high = series(Series::Role::limit, Series::Style::steps, "");
  Lane lane{"asked", {}};
  for (const Pulse& pulse : pulses) {
    const auto allowed = envelope.at(pulse);
    if (!allowed) continue;
    const double x = t.ms(pulse.fall - begin);
    point(low, x, allowed->hull(side).low), point(high, x, allowed->hull(side).high);
    const std::string text = duty_text(allowed->duty);
    if (lane.states.empty() || lane.states.back().label != text)
      lane.states.push_back({lane.states.empty() ? 0 : lane.states.back().to, x, text, false});
    lane.states.back().to = x;
  }
  p.series.push_back(std::move(low)), p.series.push_back(std::move(high));
  p.lanes.push_back(std::move(lane));
  return p;
}

void show(const std::vector<Traffic>& all, const std::vector<Envelope>& envelopes, const Watched& w, Findings& f) {
  std::vector<const Outlier*> order;
  for (const Outlier& o : w.outliers) order.push_back(&o);
  std::stable_sort(order.begin(), order.end(), [](const Outlier* a, const Outlier* b) { return a->outside_us > b->outside_us; });
  for (std::size_t i = 0; i < std::min(order.size(), kMostEvidence); ++i)
    f.evidence.push_back(order[i]->traffic->span(order[i]->pulse.rise, order[i]->pulse.fall, told(*order[i]), true));
  if (order.size() > kMostEvidence) {
    const Outlier* first =
        *std::min_element(order.begin(), order.end(), [](const Outlier* a, const Outlier* b) { return a->pulse.rise < b->pulse.rise; });
    f.evidence.push_back(first->traffic->span(first->pulse.rise, first->pulse.fall, "the first: " + told(*first), true));
  }
  for (std::size_t i = 0; i < std::min(w.silences.size(), kMostEvidence); ++i) {
    const Silence& s = w.silences[i];
    f.evidence.push_back(s.traffic->span(s.begin, s.end, std::string(name(s.side)) + " without a pulse", true));
  }
  for (const Traffic& t : all) f.evidence.push_back(t.span(t.segment().begin, t.segment().end, "random sticks", false));
  const auto index = [&](const Traffic* t) { return static_cast<std::size_t>(t - all.data()); };
  if (!order.empty()) {
    const Outlier& worst = *order.front();
    f.pictures.push_back(
        picture(*worst.traffic, envelopes[index(worst.traffic)], worst.side, worst.pulse.rise, "The worst: " + told(worst)));
  } else if (!w.silences.empty()) {
    const Silence& s = w.silences.front();
    f.pictures.push_back(picture(*s.traffic, envelopes[index(s.traffic)], s.side, s.begin, "The first silence"));
  } else {
    const Traffic& t = all.front();
    const BoardTime middle = t.segment().begin + BoardSpan{(t.segment().end - t.segment().begin).count / 2};
    for (const Side s : kSides)
      f.pictures.push_back(picture(t, envelopes.front(), s, middle, std::string("What the spec allows, and the ") + name(s) + " output"));
  }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double frame_ms = (c.check.script ? c.check.script->frame : c.plan.frame).period_us / 1e3, input = param(c.check, "input_us");
  Watched w{{}, {}, 0, 0, Extreme({}, param(c.check, "width_noise_us"))};
  std::vector<Envelope> envelopes;
  envelopes.reserve(all.size());
  for (const Traffic& t : all) {
    const Envelope& envelope = envelopes.emplace_back(c.plan, t, frame_ms, input);
    for (const Side s : kSides) watch_widths(c, t, envelope, frame_ms, s, w), watch_silence(c, t, envelope, s, w);
  }
  Findings f;
  f.measures.push_back(
      none_allowed("pulses outside what the mixer spec allows", static_cast<std::int64_t>(w.outliers.size()), w.pulses, "pulses", kNeeded));
  if (w.outliers.empty() && w.followed < kNeeded) {
    withhold(f.measures.back());
    f.measures.back().note = "only " + whole(w.followed) + " pulses had to follow the sticks, " + whole(kNeeded) + " needed";
  }
  if (w.pulses > 0) f.measures.push_back(w.furthest.as_measure("furthest outside", kNeeded));
  f.measures.push_back(
      none_allowed("silences", static_cast<std::int64_t>(w.silences.size()), std::max<std::int64_t>(w.pulses, 1), "gaps between pulses"));
  show(all, envelopes, w, f);
  f.causes = causes_of(c.plan, w.outliers, input, param(c.check, "tolerance_us"));
  f.when_passed = "Whatever the sticks and the link did, every output pulse was one that the mixer spec allows.";
  f.when_failed = "With some moves of the sticks, or losses of the link, the vehicle does something else than the mixer spec says.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kRandomSticks{"random-sticks", "seeded random sticks with faults mixed in, judged by the model at every instant", compose,
                              judge};

}  // namespace midstick::judge
