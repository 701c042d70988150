#include "daemon/judge/causes.hpp"

#include <algorithm>
#include <map>

namespace midstick::judge {
namespace {

constexpr double kHandedDown = 0.5;  // of the fit that another check gave it

}  // namespace

const std::vector<KnownCause>& known_causes() {
  static const std::vector<KnownCause> causes{
      // Reading the receiver
      {"torn-read", "a value of several bytes read while its interrupt writes it", {"torn-value"}},
      {"time-base-slip", "a clock read while it carries over, so a pulse is a whole step of it wrong", {"outlier-rhythm", "torn-value"}},
      {"clock-wrap", "a time compared across the wrap of its counter", {"soak"}},
      {"narrow-window", "a plausibility window narrower than a receiver's travel", {"plausibility"}},
      {"width-cut", "a pulse width cut to fewer bits, so a far too long pulse looks right", {"plausibility"}},
      {"no-window", "no plausibility window on pulse widths", {"plausibility"}},
      {"wild-frame-obeyed", "no filter against a single wild frame", {"wild-frames"}},
      {"runt-pairing", "spikes taken for the edges of a pulse", {"runts"}},
      {"blocking-read", "channels read one after another while waiting for each", {"latency", "channel-phase"}},
      {"phase-dependent", "channels that overlap hide one another", {"channel-phase"}},
      {"frame-rate-limit", "input frames that come faster than the program can read them", {"input-rate"}},
      {"coarse-capture", "inputs timed in coarse or irregular steps", {"output-frame"}},
      // Losing the link
      {"no-loss-action", "the last stick position kept when the signal is lost", {"signal-loss"}},
      {"one-channel-loss", "the loss of one channel alone not noticed", {"signal-loss"}},
      {"frozen-line", "a line frozen high or cut inside a pulse not noticed", {"signal-loss"}},
      {"timeout-as-pulse", "a timeout's zero taken for a pulse width", {"signal-loss"}},
      {"safe-level-wrong", "a safe level that is not the ESC's neutral", {"signal-loss", "power-up"}},
      {"loss-kick", "a kick on the way from driven to safe", {"signal-loss"}},
      {"slew-on-loss", "the slew limit applied to a stop", {"signal-loss"}},
      {"line-left-high", "pulses stopped while the line is high", {"signal-loss"}},
      {"loss-timeout-short", "a loss timeout shorter than a few frames", {"gaps", "signal-loss", "input-rate"}},
      {"loss-timeout-long", "a loss timeout longer than the mixer spec's time to safe", {"signal-loss"}},
      {"no-rearm", "no wait for both sticks at neutral after a loss", {"recovery", "chattering-link"}},
      {"rearm-too-soon", "arming again after too short a rest at neutral", {"recovery", "chattering-link"}},
      {"junk-obeyed", "the first frames of a starting receiver obeyed", {"receiver"}},
      // Starting up
      {"boot-glitch", "an output pin that moves before the first pulse", {"power-up"}},
      {"first-pulses-default", "first pulses at a default width instead of neutral", {"power-up"}},
      {"drives-without-neutral", "driving at power-up without waiting for neutral", {"power-up", "esc-arming"}},
      {"slow-boot", "the first pulse too late for an ESC", {"esc-arming", "power-up"}},
      {"learn-mode", "high pulses at power-up that put an ESC into its learn mode", {"esc-arming", "power-up"}},
      {"armed-after-restart", "the armed state kept over a restart", {"restart"}},
      {"poisoned-calibration", "centre learnt from a stick that was not at centre", {"restart"}},
      {"port-resets", "the controller restarts when its serial port is opened", {"host-port"}},
      // Making the output
      {"neutral-off", "neutral sent a few microseconds off", {"neutral", "power-up", "esc-arming"}},
      {"clock-off", "a controller clock that runs fast or slow", {"clock-ratio", "neutral"}},
      {"interrupt-jitter", "output edges made by software that other interrupts delay", {"output-frame"}},
      {"interrupts-off", "interrupts held off for a stretch, again and again", {"outlier-rhythm"}},
      {"save-stall", "settings saved while the outputs wait", {"save-stall"}},
      {"slow-loop", "a main loop slowed by something that waits", {"latency"}},
      {"excess-filter", "inputs smoothed over too many frames", {"latency"}},
      {"output-rate", "output frames at another rate than the mixer spec's", {"output-frame"}},
      {"update-in-pulse", "a pulse's end changed while the pulse is being sent", {"mid-pulse"}},
      {"sides-apart", "left and right written in different frames", {"output-skew"}},
      {"live-but-frozen", "outputs that go on by themselves while the program hangs", {"frozen-output"}},
      {"storm-lockout", "a program that edges on its inputs keep from running", {"frozen-output"}},
      // Limits and shapes
      {"limit-off", "an output limit set to another width, or missing", {"limits"}},
      {"limit-cut", "an output limit cut to 8 bits", {"limits"}},
      {"endpoint-mismatch", "stick or output endpoints other than the mixer spec's", {"static-mix", "limits", "symmetry"}},
      {"beyond-esc-window", "pulses beyond what an ESC takes for a signal", {"limits"}},
      {"integer-overflow", "a number that wraps in the mix", {"monotonic", "static-mix"}},
      {"no-dead-band", "no dead band around the stick's centre", {"dead-band", "static-mix"}},
      {"dead-band-kind", "a dead band of another kind or width", {"dead-band", "static-mix"}},
      {"no-hysteresis", "a dead band without hysteresis", {"edge-chatter"}},
      {"no-slew", "no limit on how fast the sticks act", {"slew"}},
      {"slew-rate", "another slew rate than the mixer spec's", {"slew"}},
      {"side-gain", "one side that answers more strongly than the other", {"symmetry", "static-mix"}},
      {"reverse-limit", "a reverse limit other than the mixer spec's", {"static-mix"}},
      // Mixing
      {"plain-clip", "each side clipped alone, so steering is lost at speed", {"saturation", "static-mix"}},
      {"wrong-law", "another mixing law than the mixer spec's", {"saturation", "static-mix"}},
      {"no-expo", "no expo on a stick", {"static-mix"}},
      {"steering-flips", "steering that changes sides in reverse", {"sign-matrix", "static-mix"}},
      {"reversed-or-swapped", "a channel swapped or reversed", {"sign-matrix", "static-mix"}},
      {"brake-swallows-reverse", "a move to reverse that an ESC takes for its brake", {"brake-reverse"}},
      {"accidental-reverse", "a brake that an ESC takes for reverse", {"brake-reverse"}},
  };
  return causes;
}

const KnownCause* known_cause(const std::string& id) {
  for (const KnownCause& c : known_causes())
    if (id == c.id) return &c;
  return nullptr;
}

void rank_causes(RunResult& run) {
  // How strongly the whole run points to a cause: each failing check adds its fit, and each failing check that the cause is known to
  // break adds a little more.
  std::map<std::string, double> weight;
  for (const CheckResult& c : run.checks)
    for (const Cause& cause : c.causes) weight[cause.id] += cause.fit;
  const auto breaks = [](const KnownCause& cause, const std::string& kind) {
    return std::any_of(cause.breaks.begin(), cause.breaks.end(), [&](const char* k) { return kind == k; });
  };
  for (auto& [id, w] : weight)
    if (const KnownCause* known = known_cause(id))
      for (const CheckResult& c : run.checks)
        if (c.verdict == Verdict::fail && breaks(*known, c.kind)) w += 0.1;
  for (CheckResult& c : run.checks) {
    if (c.verdict != Verdict::fail) continue;
    for (const auto& [id, w] : weight) {
      const KnownCause* known = known_cause(id);
      const bool has = std::any_of(c.causes.begin(), c.causes.end(), [&id = id](const Cause& own) { return own.id == id; });
      if (!known || has || !breaks(*known, c.kind)) continue;
      c.causes.push_back({id, std::min(1.0, kHandedDown * w), "another failing check points to it"});
    }
    std::stable_sort(c.causes.begin(), c.causes.end(),
                     [&](const Cause& a, const Cause& b) { return a.fit + 0.2 * weight[a.id] > b.fit + 0.2 * weight[b.id]; });
  }
}

}  // namespace midstick::judge
