#include "daemon/judge/envelope.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/sticks.hpp"
#include "daemon/mixer/slew.hpp"

namespace midstick::judge {
namespace {

using mixer::Interval;

constexpr double kStepMs = 1;
constexpr double kSlewClock = 0.02;    // a controller's steps of slew, and its clock, share of the rate
constexpr double kMissedFrames = 1.6;  // so many frames without a pulse: one was lost
constexpr double kCutOffMs = 0.2;      // pulses that end this close to power off or a reset are cut off by it
const double kNever = -1e12;

void widen(Interval& range, const Interval& more) {
  range.low = std::min(range.low, more.low);
  range.high = std::max(range.high, more.high);
}
double outside_of(const Interval& range, double us) { return std::max({0.0, range.low - us, us - range.high}); }

struct Sample {
  enum class Kind { taken, maybe, refused } kind;
  double at_ms;
  int input;  ///< 0 throttle, 1 steering
  double us;
};

Sample::Kind kind_of(const mixer::ReceiverSpec& r, double us, double input_us) {
  if (us >= r.accept_low_us + input_us && us <= r.accept_high_us - input_us) return Sample::Kind::taken;
  if (us < std::max(r.reject_low_us, r.runt_us) - input_us || us > r.reject_high_us + input_us) return Sample::Kind::refused;
  return Sample::Kind::maybe;
}

/// The pulses of one input as a controller may take them.
void add_samples(const script::Plan& plan, const Traffic& t, const PulseTrain& train, int input, double input_us,
                 std::vector<Sample>& out) {
  const auto& receiver = plan.spec.receiver;
  const auto at = [&](const Pulse& p) { return t.ms(p.fall - t.segment().begin); };
  const auto pulses = train.all();
  const auto notch = [&](std::size_t i) {
    return i < pulses.size() && i > 0 && t.us(pulses[i].rise - pulses[i - 1].fall) < receiver.runt_us;
  };
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    const double us = t.us(pulses[i]);
    auto kind = kind_of(receiver, us, input_us);
    const bool part = notch(i) || notch(i + 1);
    if (part && kind == Sample::Kind::taken) kind = Sample::Kind::maybe;
    out.push_back({kind, at(pulses[i]), input, us});
    if (!notch(i)) continue;
    // The low in between may not have been seen.
    const double whole = t.us(pulses[i].fall - pulses[i - 1].rise);
    if (kind_of(receiver, whole, input_us) != Sample::Kind::refused) out.push_back({Sample::Kind::maybe, at(pulses[i]), input, whole});
  }
}

std::vector<Sample> samples_of(const script::Plan& plan, const Traffic& t, double input_us) {
  std::vector<Sample> all;
  add_samples(plan, t, t.throttle(), 0, input_us, all);
  add_samples(plan, t, t.steering(), 1, input_us, all);
  std::stable_sort(all.begin(), all.end(), [](const Sample& a, const Sample& b) { return a.at_ms < b.at_ms; });
  return all;
}

}  // namespace

double Allowed::outside(Side s, double us) const {
  const auto i = static_cast<std::size_t>(s);
  if (between) return outside_of(hull(s), us);
  double least = 1e9;
  if (drives) least = std::min(least, outside_of(driven[i], us));
  if (rests) least = std::min(least, outside_of(rest[i], us));
  return least;
}

Interval Allowed::hull(Side s) const {
  const auto i = static_cast<std::size_t>(s);
  if (!drives && !between) return rest[i];
  Interval all = driven[i];
  if (rests || between) widen(all, rest[i]);
  return all;
}

/// Walks through the segment and notes every ms what the controller may be doing.
class Envelope::Follower {
 public:
  Follower(const script::Plan& plan, const Traffic& traffic, double frame_ms, double input_us)
      : plan_(plan),
        spec_(plan.spec),
        traffic_(traffic),
        frame_ms_(frame_ms),
        input_us_(input_us),
        samples_(samples_of(plan, traffic, input_us)),
        slews_(mixer::longest_slew_seconds(plan.spec) > 0),
        turning_ms_(plan.spec.turn_rest_ms > 0 ? 1e3 * mixer::longest_slew_seconds(plan.spec) * (1 + kSlewClock) : 0),
        position_{mixer::SlewedRange(plan.spec.throttle), mixer::SlewedRange(plan.spec.steering)} {}

  void walk(std::vector<Instant>& out, std::vector<double>& forced, std::vector<Stretch>& stretches) {
    stretches = off_stretches();
    const double end = traffic_.ms(traffic_.segment().end - traffic_.segment().begin);
    out.reserve(static_cast<std::size_t>(end / kStepMs) + 2);
    for (double now = 0; now <= end + kStepMs; now += kStepMs) {
      now_ = now;
      take_events(forced);
      take_samples();
      follow_link(forced);
      follow_rest();
      out.push_back(noted());
      if (slews_) follow_slew(out);
      out.back().throttle = position_[0].position(), out.back().steering = position_[1].position();
    }
  }

 private:
  struct Input {
    std::optional<Interval> current;  ///< widths that may be the last one taken
    double taken{kNever}, maybe{0};   ///< when a pulse was taken last: for certain, at most
    int off_centre{0};                ///< so many pulses in a row were off neutral for certain
    bool lost{false};
  };

  /// To the microsecond: a glitch may come that soon after power.
  std::vector<Stretch> off_stretches() const {
    std::vector<Stretch> found;
    bool powered = true, held = false;
    for (const auto& e : traffic_.capture().events) {
      const double at = traffic_.ms(e.at - traffic_.segment().begin);
      const bool was_off = !powered || held;
      if (e.kind == capture::EventKind::power_off) powered = false;
      if (e.kind == capture::EventKind::power_on) powered = true, held = false;
      if (e.kind == capture::EventKind::reset_asserted) held = true;
      if (e.kind == capture::EventKind::reset_released) held = false;
      const bool is_off = !powered || held;
      if (is_off && !was_off) found.push_back({at, 1e12});
      if (!is_off && was_off) found.back().to_ms = at;
    }
    return found;
  }

  void take_events(std::vector<double>& forced) {
    const auto& events = traffic_.capture().events;
    for (; next_event_ < events.size(); ++next_event_) {
      const auto& e = events[next_event_];
      if (traffic_.ms(e.at - traffic_.segment().begin) > now_) return;
      const bool here = e.at >= traffic_.segment().begin;
      if (e.kind == capture::EventKind::power_off) powered_ = false;
      if (e.kind == capture::EventKind::reset_asserted) held_ = true;
      const bool power = e.kind == capture::EventKind::power_on, released = e.kind == capture::EventKind::reset_released;
      if (!power && !released) continue;
      power ? powered_ = true : powered_;
      held_ = false;
      if (!here) continue;
      started_ = now_;
      forced.push_back(traffic_.ms(e.at - traffic_.segment().begin));
      may_drive_ = false, may_rest_ = true, lost_before_ = false;
      possible_since_.reset(), sure_since_.reset();
      for (Input& in : inputs_) in.taken = kNever, in.maybe = now_, in.lost = false, in.off_centre = 0;
    }
  }

  void take_samples() {
    for (; next_sample_ < samples_.size() && samples_[next_sample_].at_ms <= now_; ++next_sample_) {
      const Sample& s = samples_[next_sample_];
      Input& in = inputs_[s.input];
      const Interval width{s.us, s.us};
      if (s.kind != Sample::Kind::taken) sure_since_.reset();
      if (s.kind == Sample::Kind::refused) continue;
      if (s.kind == Sample::Kind::taken || !in.current) in.current = width;
      widen(*in.current, width);
      in.maybe = s.at_ms;
      if (s.kind != Sample::Kind::taken) continue;
      in.taken = s.at_ms;
      const mixer::InputSpec& spec = s.input == 0 ? spec_.throttle : spec_.steering;
      in.off_centre = std::abs(s.us - spec.centre_us) > spec_.arm.neutral_half_us + input_us_ ? in.off_centre + 1 : 0;
    }
  }

  void follow_link(std::vector<double>& forced) {
    may_be_lost_ = false;
    bool must = false;
    for (Input& in : inputs_) {
      if (now_ - in.taken > (spec_.loss.tolerate_frames + 1) * frame_ms_) may_be_lost_ = true;
      if (now_ - in.taken > kMissedFrames * frame_ms_) sure_since_.reset();
      in.lost = now_ - in.maybe > spec_.loss.safe_within_ms;
      must = must || in.lost;
    }
    if (off()) may_be_lost_ = must = false;
    if (may_be_lost_) may_rest_ = true;
    if (!must) return;
    if (may_drive_) forced.push_back(now_);
    may_drive_ = may_be_lost_ = false;
    may_rest_ = lost_before_ = true;
    possible_since_.reset(), sure_since_.reset();
  }

  bool off() const { return !powered_ || held_; }
  bool boots() const { return started_ >= 0 && now_ - started_ < spec_.arm.boot_ms; }

  /// Does the controller read the stick at neutral, whatever its error?
  bool neutral(int i, const mixer::InputSpec& in) const {
    const Interval& w = *inputs_[i].current;
    return std::max(std::abs(w.low - in.centre_us), std::abs(w.high - in.centre_us)) + input_us_ <= spec_.arm.neutral_half_us;
  }

  void follow_rest() {
    if (off() || !inputs_[0].current || !inputs_[1].current) {
      possible_since_.reset(), sure_since_.reset();
      return;
    }
    const bool lost = inputs_[0].lost || inputs_[1].lost;
    // Frames that it may hold for wild do not count yet.
    if (lost || std::max(inputs_[0].off_centre, inputs_[1].off_centre) > spec_.receiver.wild_frames)
      possible_since_.reset();
    else if (!possible_since_)
      possible_since_ = now_ - kStepMs;
    if (lost || boots() || may_be_lost_ || !neutral(0, spec_.throttle) || !neutral(1, spec_.steering))
      sure_since_.reset();
    else if (!sure_since_)
      sure_since_ = now_;
    // A controller that counts frames has its count one frame early.
    if (possible_since_ && now_ - *possible_since_ >= spec_.arm.neutral_ms - frame_ms_ - kStepMs) may_drive_ = true;
    if (sure_since_ && now_ - *sure_since_ >= must_arm_ms()) may_drive_ = true, may_rest_ = false, lost_before_ = false;
  }

  /// Every check's preamble arms, so that at its end the outputs follow: less the way to the outputs, and the frame in which it began.
  double must_arm_ms() const {
    return spec_.arm.neutral_ms + std::max(kArmMarginMs / 3, kArmMarginMs - spec_.latency_max_ms - 2 * frame_ms_);
  }

  Instant noted() {
    Instant i;
    i.known = inputs_[0].current && inputs_[1].current;
    i.off = off(), i.boots = boots();
    i.drives = may_drive_, i.rests = may_rest_, i.between = may_drive_ && may_be_lost_;
    i.lost[0] = inputs_[0].lost, i.lost[1] = inputs_[1].lost, i.ever_lost = lost_before_;
    i.since_power_ms = started_ < 0 ? -1 : static_cast<float>(now_ - started_);
    if (!i.known) return i;
    i.throttle_us = *inputs_[0].current, i.steering_us = *inputs_[1].current;
    position_[0].jump_to(read(spec_.throttle, i.throttle_us)), position_[1].jump_to(read(spec_.steering, i.steering_us));
    return i;
  }

  Interval read(const mixer::InputSpec& in, const Interval& us) const {
    return mixer::stick_within(in, {us.low - input_us_, us.high + input_us_});
  }

  /// The sticks as slew leaves them, behind whatever was current within the latency.
  void follow_slew(const std::vector<Instant>& all) {
    if (!all.back().known) return;
    Interval target[2]{all.back().throttle_us, all.back().steering_us};
    const auto back = std::min(all.size(), static_cast<std::size_t>((spec_.latency_max_ms + turning_ms_) / kStepMs) + 2);
    if (may_rest_) rested_at_ = now_;
    for (std::size_t k = all.size() - back; k < all.size(); ++k)
      if (all[k].known) widen(target[0], all[k].throttle_us), widen(target[1], all[k].steering_us);
    const mixer::InputSpec* in[2]{&spec_.throttle, &spec_.steering};
    for (int i = 0; i < 2; ++i) {
      const Interval to = read(*in[i], target[i]);
      slewed_[i] = slewed_[i].value_or(mixer::SlewedRange(*in[i], to));
      if (turning_ms_ > 0)
        slewed_[i]->jump_to(to);  // a track that rests holds up both sticks: anywhere between the last targets
      else if (may_drive_)
        slewed_[i]->advance(to, kStepMs * (1 - kSlewClock) / 1e3, kStepMs * (1 + kSlewClock) / 1e3);
      if (!may_drive_) slewed_[i]->jump_to({0, 0});
      Interval at = slewed_[i]->position();
      if (now_ - rested_at_ <= turning_ms_) widen(at, {0, 0});  // armed only now, it starts from rest
      slewed_[i]->jump_to(at);
      position_[i].jump_to(at);
    }
  }

  const script::Plan& plan_;
  const mixer::MixerSpec& spec_;
  const Traffic& traffic_;
  double frame_ms_, input_us_;
  std::vector<Sample> samples_;
  bool slews_;
  double turning_ms_, rested_at_{0};  ///< longest way of the sticks where tracks rest before they turn round, else 0
  mixer::SlewedRange position_[2];
  std::optional<mixer::SlewedRange> slewed_[2];
  std::size_t next_sample_{0}, next_event_{0};
  double now_{0}, started_{-1};
  Input inputs_[2];
  bool powered_{true}, held_{false};
  bool may_drive_{true}, may_rest_{true}, may_be_lost_{false}, lost_before_{false};
  std::optional<double> possible_since_, sure_since_;
};

Envelope::Envelope(const script::Plan& plan, const Traffic& traffic, double frame_ms, double input_us) : plan_(plan), traffic_(traffic) {
  Follower(plan, traffic, frame_ms, input_us).walk(instants_, forced_ms_, off_);
}

bool Envelope::cut_off(double rise_ms, double fall_ms) const {
  return std::any_of(off_.begin(), off_.end(), [&](const Stretch& s) { return fall_ms > s.from_ms - kCutOffMs && rise_ms < s.to_ms; });
}

std::size_t Envelope::step(double ms) const {
  const double last = static_cast<double>(instants_.size()) - 1;
  return static_cast<std::size_t>(std::clamp(std::floor(ms / kStepMs), 0.0, last));
}

std::optional<Allowed> Envelope::at(const Pulse& pulse) const {
  const double rise = ms(pulse.rise), fall = ms(pulse.fall);
  double begin = fall - plan_.spec.latency_max_ms - kStepMs;
  const auto forced = std::upper_bound(forced_ms_.begin(), forced_ms_.end(), rise);
  if (forced != forced_ms_.begin() && *(forced - 1) > begin) begin = *(forced - 1) + kStepMs;
  if (begin < 0) return {};
  if (cut_off(rise, fall)) return {};
  Allowed a;
  bool first = true, known = true;
  mixer::Interval throttle, steering;
  for (std::size_t k = step(begin), last = std::max(step(begin), step(rise) + 1); k <= last && k < instants_.size(); ++k) {
    const Instant& i = instants_[k];
    known = known && (i.known || !i.drives);
    if (i.off) continue;
    if (std::exchange(first, false)) {
      a.throttle_us = i.throttle_us, a.steering_us = i.steering_us, throttle = i.throttle, steering = i.steering;
    } else {
      widen(a.throttle_us, i.throttle_us), widen(a.steering_us, i.steering_us), widen(throttle, i.throttle), widen(steering, i.steering);
    }
    a.drives = a.drives || i.drives, a.rests = a.rests || i.rests, a.between = a.between || i.between;
    for (int n = 0; n < 2; ++n) a.lost_input[n] = i.lost[n];
    a.since_power_ms = i.since_power_ms;
    a.duty = i.ever_lost ? Duty::lost : Duty::stay_safe;
  }
  if (first || !known) return {};
  if (a.drives) a.duty = a.rests || a.between ? Duty::either : Duty::follow;
  if (a.between) widen(throttle, {0, 0}), widen(steering, {0, 0});  // one stick may be let go before the other
  const auto driven = mixer::outputs_within(plan_.spec, throttle, steering);
  a.driven[0] = driven.left, a.driven[1] = driven.right;
  for (const Side s : kSides) {
    const double neutral = neutral_of(plan_, s), half = plan_.spec.loss.safe_half_us;
    a.rest[static_cast<std::size_t>(s)] = {neutral - half, neutral + half};
  }
  return a;
}

bool Envelope::must_pulse(BoardTime begin, BoardTime end) const {
  for (std::size_t k = step(ms(begin)); k <= step(ms(end)); ++k) {
    const Instant& i = instants_[k];
    if (i.off || i.boots || (i.rests && plan_.spec.loss.pulses_may_stop)) return false;
  }
  return true;
}

}  // namespace midstick::judge
