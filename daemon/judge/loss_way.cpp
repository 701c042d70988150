#include "daemon/judge/loss_way.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr int kLastPulses = 3;
constexpr double kClearlyUs = 20;  // between two widths that are not the same
constexpr double kThrownUs = 100;  // outside the stretch from neutral to the width before
constexpr int kRampPulses = 4;     // between, each nearer to neutral

double off_end(double us, double before, double neutral) {
  return std::max({0.0, std::min(before, neutral) - us, us - std::max(before, neutral)});
}

/// Pulses clearly between the width before and neutral that come nearer from each to the next.
int descending(const Traffic& t, std::span<const Pulse> pulses, double before, double neutral) {
  int steps = 0;
  double last = std::abs(before - neutral);
  for (const Pulse& p : pulses) {
    const double off = std::abs(t.us(p) - neutral);
    if (off < last - 1 && off > kClearlyUs / 2 && off < std::abs(before - neutral) - kClearlyUs / 2) ++steps;
    last = off;
  }
  return steps;
}

}  // namespace

LossWay loss_way(const script::Plan& plan, const Traffic& t, Side side, BoardTime from, BoardTime until, const SafeWatch& w,
                 double kick_us) {
  if (w.stuck_high) return LossWay::high;
  const double neutral = neutral_of(plan, side), before = mean_before(t, side, from, kLastPulses), limit = plan.spec.loss.safe_within_ms;
  const auto pulses = t.output(side).falling_in(from, until);
  const bool in_time = w.safe_at && t.ms(*w.safe_at - from) <= limit;
  if (in_time) return w.kick.failing() && w.kick.value() > kick_us ? LossWay::kick : LossWay::safe;
  if (w.silent || pulses.empty()) return LossWay::silent;
  const double last = mean_before(t, side, until, kLastPulses);
  if (!w.safe_at && off_end(last, before, neutral) > kThrownUs) return LossWay::thrown;
  if (descending(t, pulses, before, neutral) >= kRampPulses) return LossWay::ramp;
  if (w.safe_at) return LossWay::late;
  return std::abs(last - before) <= kClearlyUs ? LossWay::held : LossWay::other_level;
}

namespace {

struct Tally {
  int seen{0}, bad{0};
  std::string named;
};

Tally tally(const std::vector<LossSeen>& all, LossWay way) {
  Tally t;
  for (const LossSeen& l : all) {
    ++t.seen;
    if (l.side[0] != way && l.side[1] != way) continue;
    ++t.bad;
    if (t.named.find(l.mode) == std::string::npos) t.named += (t.named.empty() ? "" : ", ") + l.mode;
  }
  return t;
}

bool any(const std::vector<LossSeen>& all, LossWay way, bool all_inputs, bool stuck_high) {
  return std::any_of(all.begin(), all.end(), [&](const LossSeen& l) {
    return l.all_inputs == all_inputs && l.stuck_high == stuck_high && (l.side[0] == way || l.side[1] == way);
  });
}

/// Thrown outputs that end on the same width whichever input was lost: that is a level, not a stick position mixed with another.
bool thrown_to_one_level(const std::vector<LossSeen>& all) {
  double low[2] = {1e9, 1e9}, high[2] = {};
  bool both = false, one = false;
  for (const LossSeen& l : all)
    for (const int i : {0, 1}) {
      if (l.side[i] != LossWay::thrown) continue;
      (l.all_inputs ? both : one) = true;
      low[i] = std::min(low[i], l.rest_us[i]);
      high[i] = std::max(high[i], l.rest_us[i]);
    }
  return both && one && high[0] - low[0] <= kClearlyUs && high[1] - low[1] <= kClearlyUs;
}

/// An output that stays where it was: which losses go unnoticed says why.
void name_held(const std::vector<LossSeen>& all, std::vector<Cause>& causes) {
  const Tally held = tally(all, LossWay::held);
  if (held.bad == 0) return;
  const std::string reason = "outputs stay where they were after " + whole(held.bad) + " of " + whole(held.seen) + " losses: " + held.named;
  const bool silence = any(all, LossWay::held, true, false), one = any(all, LossWay::held, false, false);
  const bool frozen = any(all, LossWay::held, true, true) || any(all, LossWay::held, false, true);
  if (silence)
    causes.push_back({"no-loss-action", 0.9, reason});
  else if (one)
    causes.push_back({"one-channel-loss", 0.9, reason + "; none when all inputs are silent"});
  else if (frozen)
    causes.push_back({"frozen-line", 0.9, reason + "; none when the lines are low"});
}

}  // namespace

std::vector<Cause> loss_causes(const std::vector<LossSeen>& all) {
  std::vector<Cause> causes;
  const auto name = [&](LossWay way, const char* id, const char* what) {
    const Tally t = tally(all, way);
    if (t.bad > 0)
      causes.push_back({id, 0.9, std::string(what) + " after " + whole(t.bad) + " of " + whole(t.seen) + " losses: " + t.named});
  };
  name(LossWay::high, "line-left-high", "an output line stays high");
  if (thrown_to_one_level(all))
    name(LossWay::thrown, "safe-level-wrong", "outputs driven to one and the same width, and kept there,");
  else
    name(LossWay::thrown, "timeout-as-pulse", "outputs driven to another width, and kept there,");
  name(LossWay::kick, "loss-kick", "safe in time, but an output is thrown out first");
  name(LossWay::ramp, "slew-on-loss", "outputs come down step by step, and too late,");
  name(LossWay::other_level, "safe-level-wrong", "outputs rest on a width that is not neutral");
  name(LossWay::late, "loss-timeout-long", "outputs go safe at once, but too late,");
  name_held(all, causes);
  return causes;
}

}  // namespace midstick::judge
