// Receivers as they boot and fail, by name (common practice, no source; catalogue faults 19-21, 24, 28, 32). A controller cannot know that
// pulses which look valid are not the sticks: then the outputs must follow what is sent. Without valid pulses they must be safe in time.
// In no case may they go beyond what old pulses, new pulses and neutral, in any mixture, ask for; and while the receiver boots, before the
// controller can have armed, they stay at neutral whatever single frames come.
#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/script/receiver.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kSteering = 20;  // percent, so that the loss of steering alone shows as well
constexpr double kSpareMs = 300, kOffMs = 300, kEndMs = 200;
constexpr double kBootRuntUs = 700;  // shorter pulses at power-up are the power-up check's business
constexpr int kLastPulses = 5;
constexpr const char* kDrive = "drive";
constexpr const char* kOff = "receiver off, power off";
constexpr const char* kOn = "receiver off, power on";
constexpr const char* kAgain = "neutral again";

std::vector<std::string> names(const script::PlannedCheck& check, const char* key) {
  return check.params.at(key).get<std::vector<std::string>>();
}

script::ReceiverScene scene_of(const script::Plan& plan, double throttle, double steering) {
  const auto &t = plan.spec.throttle, &s = plan.spec.steering;
  script::ReceiverScene scene;
  scene.throttle = t.name;
  scene.sticks = {{t.name, script::width_of_percent(t, throttle)}, {s.name, script::width_of_percent(s, steering)}};
  scene.preset = {{t.name, t.centre_us}, {s.name, s.centre_us}};
  scene.throttle_high_us = script::width_of_percent(t, 100);
  scene.frame_ms = (plan.frame.period_us + plan.frame.dither_us) / 1e3;
  return scene;
}

/// Plays a behaviour after the sticks so far.
void play(Sticks& sticks, const script::Plan& plan, const std::string& name, const script::ReceiverScene& scene, double watch_ms) {
  script::StickScript own;
  own.frame = plan.frame;
  own.seed = 0;
  const double least = script::receiver_behaviour(name)->least_ms;
  own.moves = script::receiver_moves(name, scene, least + std::max(watch_ms, 3 * scene.frame_ms)).value();
  sticks.play(own);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double drive = param(check, "drive_percent"), slew_ms = 1e3 * mixer::longest_slew_seconds(plan.spec);
  sticks.arm();
  bool armed = true;
  for (const std::string& name : names(check, "loss")) {
    if (!armed) sticks.arm();
    sticks.hold(drive, kSteering, param(check, "drive_ms") + param(check, "entry_ms") + slew_ms, kDrive);
    play(sticks, plan, name, scene_of(plan, drive, kSteering), plan.spec.loss.safe_within_ms + kSpareMs + slew_ms);
    armed = false;
  }
  for (const std::string& name : names(check, "boot")) {
    sticks.silent(kOffMs, kOff).actions = {script::ActionKind::power_off};
    sticks.silent(plan.controller.boot_ms + plan.spec.arm.boot_ms, kOn).actions = {script::ActionKind::power_on};
    play(sticks, plan, name, scene_of(plan, 0, 0), param(check, "silence_ms"));
    sticks.hold(0, 0, kEndMs, kAgain);
  }
  sticks.hold(0, 0, kEndMs, "end");
  return sticks.take();
}

/// What the controller must make of one input in a stretch.
enum class Seen { valid, doubtful, none };

/// One part of a behaviour, as it was sent and answered.
struct Part {
  const Traffic* traffic;
  std::string name;
  BoardTime before, begin, end;  ///< `before`: when the behaviour began
  Seen throttle, steering;
};

Seen seen(const Context& c, const Traffic& t, const PulseTrain& input, BoardTime begin, BoardTime end) {
  const auto& r = c.plan.spec.receiver;
  bool valid = true, none = true;
  for (const Pulse& p : input.within(begin, end)) {
    const double us = t.us(p);
    valid = valid && us >= r.accept_low_us && us <= r.accept_high_us;
    none = none && (us < r.reject_low_us || us > r.reject_high_us);
  }
  return none ? Seen::none : valid ? Seen::valid : Seen::doubtful;
}

/// A behaviour's name as people read it: plans write it with underscores.
std::string in_words(std::string label) {
  std::replace(label.begin(), label.end(), '_', ' ');
  return label;
}

std::vector<Part> losses(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Part> found;
  for (const Traffic& t : all) {
    BoardTime before{};
    for (const auto& mark : t.segment().marks) {
      const auto* behaviour = script::receiver_behaviour(mark.label.substr(0, mark.label.find(',')));
      if (!behaviour || behaviour->state != script::ReceiverState::loss) continue;
      if (mark.label == behaviour->name) before = mark.at;
      const BoardTime end = t.end_of(mark);
      if (!driven(c.plan, t, before)) continue;
      found.push_back(
          {&t, in_words(mark.label), before, mark.at, end, seen(c, t, t.throttle(), mark.at, end), seen(c, t, t.steering(), mark.at, end)});
    }
  }
  return found;
}

/// Widths of an input that the controller may go by in a part: the last before it, those sent, and neutral.
std::vector<double> candidates(const Traffic& t, const PulseTrain& input, const Part& p, double centre_us) {
  std::vector<double> out{centre_us};
  for (const BoardTime at : {p.before, p.begin})
    if (const Pulse* last = last_valid(t, input, at)) out.push_back(t.us(*last));
  double low = 1e9, high = 0;
  for (const Pulse& pulse : input.within(p.begin, p.end))
    if (const double us = t.us(pulse); us < 5000) low = std::min(low, us), high = std::max(high, us);
  if (high > 0) out.push_back(low), out.push_back(high);
  return out;
}

struct Hull {
  double low{1e9}, high{0};
};
Hull hull(const Context& c, const Part& p, Side side) {
  Hull h;
  const auto& spec = c.plan.spec;
  for (const double throttle : candidates(*p.traffic, p.traffic->throttle(), p, spec.throttle.centre_us))
    for (const double steering : candidates(*p.traffic, p.traffic->steering(), p, spec.steering.centre_us)) {
      const auto y = mixer::expected(spec, throttle, steering);
      const double us = side == Side::left ? y.left_us : y.right_us;
      h.low = std::min(h.low, us), h.high = std::max(h.high, us);
    }
  return h;
}

void judge_beyond(const Context& c, const std::vector<Part>& parts, Findings& f) {
  Extreme beyond({}, param(c.check, "tolerance_us"));
  for (const Part& p : parts)
    for (const Side s : kSides) {
      const Hull h = hull(c, p, s);
      Extreme own({}, param(c.check, "tolerance_us"));
      for (const Pulse& pulse : p.traffic->output(s).falling_in(p.begin, p.end)) {
        const double us = p.traffic->us(pulse);
        own.add(*p.traffic, pulse, std::max({0.0, h.low - us, us - h.high}));
      }
      if (own.failing() && own.pulse())
        f.evidence.push_back(
            p.traffic->span(own.pulse()->rise, own.pulse()->fall, p.name + ": " + name(s) + " beyond what was sent", true));
      beyond.merge(own);
    }
  f.measures.push_back(beyond.as_measure("beyond what was sent", kNeeded));
}

/// Stopped or not is the question here; how exact a stop is, signal-loss and neutral say.
script::Plan stop_plan(const Context& c) {
  script::Plan plan = c.plan;
  plan.spec.loss.safe_half_us = std::max(plan.spec.loss.safe_half_us, param(c.check, "tolerance_us"));
  return plan;
}

void judge_stop(const Context& c, const script::Plan& plan, const Part& p, Findings& f) {
  const Traffic& t = *p.traffic;
  BoardTime from = p.end;
  int lost = 0;
  for (const auto& [what, train] : {std::pair{p.throttle, &t.throttle()}, std::pair{p.steering, &t.steering()}}) {
    if (what != Seen::none) continue;
    ++lost;
    if (const Pulse* last = last_valid(t, *train, p.begin)) from = std::min(from, last->fall);
  }
  BoardTime safe = from;
  std::uint16_t half = 1;
  bool reached = true, kept = true;
  for (const Side s : kSides) {
    const double before = mean_before(t, s, p.before, kLastPulses);
    const SafeWatch w = watch_safe(plan, t, s, from, p.end, std::numeric_limits<double>::quiet_NaN(), 0);
    reached = reached && w.safe_at;
    kept = kept && std::abs(mean_before(t, s, p.end, kLastPulses) - before) <= param(c.check, "tolerance_us");
    safe = std::max(safe, w.safe_at.value_or(p.end));
    half = std::max(half, w.safe_half);
  }
  const double ms = t.ms(safe - from), limit = plan.spec.loss.safe_within_ms;
  Measure m =
      measure("time to safe, " + p.name, ms, {}, limit, span_uncertainty_us(c.capture, safe - from, kCommanded, half) / 1e3, "ms", 1);
  if (!reached) {
    never_came(m, kNeverSafe);
    m.note = "not safe when the watch ended";
  }
  if (m.verdict == Verdict::fail && kept)
    f.causes.push_back({lost == 1 ? "one-channel-loss" : "no-loss-action", 0.9,
                        "both outputs still as driven, " + num(t.ms(p.end - from), 0) + " ms after the last valid pulse (" + p.name + ")"});
  f.evidence.push_back(t.span(from, reached ? safe : p.end, p.name, m.verdict == Verdict::fail));
  f.measures.push_back(std::move(m));
}

/// Valid pulses are followed, whatever the receiver meant by them.
void judge_follow(const Context& c, const Part& p, Findings& f) {
  const Traffic& t = *p.traffic;
  const double tolerance = param(c.check, "tolerance_us");
  const Pulse* throttle = last_valid(t, t.throttle(), p.end);
  const Pulse* steering = last_valid(t, t.steering(), p.end);
  if (!throttle || !steering) return;
  const auto y = mixer::expected(c.plan.spec, t.us(*throttle), t.us(*steering));
  for (const Side s : kSides) {
    const auto pulses = t.output(s).falling_in(p.begin, p.end);
    const double mean = mean_before(t, s, p.end, kLastPulses), asked = s == Side::left ? y.left_us : y.right_us;
    const double u = pulses.empty() ? 0 : t.width_uncertainty(pulses.back());
    Measure m = measure(p.name + ": " + name(s) + " off what was sent", pulses.empty() ? 0 : mean - asked, -tolerance, tolerance, u, "us",
                        std::min<std::int64_t>(kLastPulses, static_cast<std::int64_t>(pulses.size())), kLastPulses);
    if (m.verdict == Verdict::fail) m.note = "these pulses look valid; a controller can only do what they say";
    f.evidence.push_back(t.span(p.begin, p.end, p.name, m.verdict == Verdict::fail));
    f.measures.push_back(std::move(m));
  }
}

void draw(const Part& p, Findings& f) {
  if (f.pictures.size() > 2) return;
  f.pictures.push_back(time_picture(*p.traffic, p.before - p.traffic->ticks_ms(200), p.end, "Receiver: " + p.name));
}

void judge_losses(const Context& c, const std::vector<Part>& parts, Findings& f) {
  const script::Plan plan = stop_plan(c);
  for (const Part& p : parts) {
    const std::size_t measures = f.measures.size();
    if (p.throttle == Seen::none || p.steering == Seen::none)
      judge_stop(c, plan, p, f);
    else if (p.throttle == Seen::valid && p.steering == Seen::valid)
      judge_follow(c, p, f);
    const bool fails = std::any_of(f.measures.begin() + static_cast<std::ptrdiff_t>(measures), f.measures.end(),
                                   [](const Measure& m) { return m.verdict == Verdict::fail; });
    if (fails || f.pictures.empty()) draw(p, f);
  }
  judge_beyond(c, parts, f);
}

/// One receiver's boot beside a controller that is already up.
struct Start {
  const Traffic* traffic;
  std::string name;
  BoardTime on, begin, end;
};

std::vector<Start> starts(const std::vector<Traffic>& all) {
  std::vector<Start> found;
  for (const Traffic& t : all) {
    BoardTime on{};
    for (const auto& mark : t.segment().marks) {
      if (mark.label == kOn) on = mark.at;
      const auto* behaviour = script::receiver_behaviour(mark.label);
      if (!behaviour || behaviour->state != script::ReceiverState::boot) continue;
      const auto again = t.marks(kAgain);
      const auto next = std::find_if(again.begin(), again.end(), [&](const auto* m) { return m->at > mark.at; });
      if (next != again.end()) found.push_back({&t, in_words(mark.label), on, mark.at, t.end_of(**next)});
    }
  }
  return found;
}

void judge_starts(const Context& c, const std::vector<Start>& all, Findings& f) {
  const double tolerance = std::max(param(c.check, "tolerance_us"), c.plan.spec.loss.safe_half_us);
  Extreme worst(-tolerance, tolerance);
  std::int64_t left = 0;
  std::string told;
  for (const Start& s : all) {
    Extreme off(-tolerance, tolerance);
    for (const Side side : kSides)
      for (const Pulse& p : s.traffic->output(side).within(s.on, s.end))
        if (const double us = s.traffic->us(p); us >= kBootRuntUs) off.add(*s.traffic, p, us - neutral_of(c.plan, side));
    worst.merge(off);
    const bool fails = off.failing();
    left += fails;
    f.evidence.push_back(s.traffic->span(s.on, s.end, s.name, fails));
    if (fails && off.pulse())
      told =
          num(off.value()) + " us off neutral " + num(s.traffic->ms(off.pulse()->fall - s.begin), 0) + " ms after \"" + s.name + "\" began";
    if (fails || f.pictures.empty())
      f.pictures.push_back(time_picture(*s.traffic, s.begin - s.traffic->ticks_ms(200), s.end, "Receiver boots: " + s.name));
  }
  const auto n = static_cast<std::int64_t>(all.size());
  f.measures.push_back(none_allowed("receiver starts that moved an output", left, n, "starts"));
  if (worst.pulse() || !c.plan.spec.loss.pulses_may_stop) f.measures.push_back(worst.as_measure("off neutral while the receiver boots", 1));
  if (left > 0)
    f.causes.push_back(
        {"junk-obeyed", static_cast<double>(left) / static_cast<double>(n), told + "; " + whole(left) + " of " + whole(n) + " starts"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  const auto parts = losses(c, all);
  const auto boots = starts(all);
  if (!names(c.check, "loss").empty()) {
    if (parts.empty()) return undecided(c, "the outputs were not driven when the receiver lost its link.");
    judge_losses(c, parts, f);
  }
  if (const auto asked = names(c.check, "boot").size() * all.size(); asked > 0) {
    if (boots.size() < asked) return undecided(c, "not all of the receiver's starts are in the record.");
    judge_starts(c, boots, f);
  }
  f.when_passed = "Whatever the receiver does of its own accord, the outputs follow valid pulses, and are safe in time without them.";
  f.when_failed = "The vehicle may move when its receiver starts or fails.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kReceiver{"receiver", "receivers as they boot, fail and return, by name: outputs stay within what each allows", compose,
                          judge};

}  // namespace midstick::judge
