#include "daemon/script/receiver.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::script {
namespace {

using Sticks = std::map<std::string, double>;

constexpr double kLowUs = 800, kVeryLowUs = 880, kThrottleLowUs = 920, kJunkLowUs = 881, kNeutralUs = 1500;
constexpr double kLowMs = 1500, kNeutralMs = 2000;
constexpr double kNoiseUs = 30, kNoiseForUs = 600, kNoiseShare = 0.5;

/// Builds the moves; every part but the last has a length of its own.
class Scene {
 public:
  Scene(const ReceiverScene& scene, std::string_view name, double for_ms) : scene_(scene), name_(name), left_ms_(for_ms) {}

  Sticks all_at(double us) const {
    Sticks out = scene_.sticks;
    for (auto& [input, width] : out) width = us;
    return out;
  }
  Sticks throttle_at(Sticks sticks, double us) const {
    sticks[scene_.throttle] = us;
    return sticks;
  }

  Move& part(const Sticks& sticks, double ms, const std::string& state = "") {
    Move move;
    move.for_ms = std::max(1.0, std::ceil(ms / scene_.frame_ms - 1e-9)) * scene_.frame_ms;
    move.from = sticks;
    move.mark = std::string(name_) + (state.empty() ? "" : ", " + state);
    left_ms_ -= move.for_ms;
    moves_.push_back(std::move(move));
    return moves_.back();
  }
  Move& rest(const Sticks& sticks, const std::string& state = "") {
    Move& move = part(sticks, scene_.frame_ms, state);
    move.for_ms += std::max(0.0, left_ms_);
    left_ms_ = 0;
    return move;
  }
  double left_ms() const { return left_ms_; }

  void fault(Move& move, Fault kind, bool throttle, bool others) const {
    for (const auto& [input, us] : scene_.sticks)
      if (input == scene_.throttle ? throttle : others) move.faults.push_back({.input = input, .fault = kind});
  }
  void silent(const std::string& state) { fault(rest(scene_.sticks, state), Fault::drop, true, true); }

  std::vector<Move> take() { return std::move(moves_); }

 private:
  const ReceiverScene& scene_;
  std::string_view name_;
  double left_ms_;
  std::vector<Move> moves_;
};

void flapping(Scene& s, const ReceiverScene& scene) {
  const double there_ms[] = {60, 200, 100, 40}, gone_ms[] = {300, 500, 120, 800};
  for (std::size_t i = 0; s.left_ms() > 0; ++i) {
    s.fault(s.part(scene.sticks, std::min(gone_ms[i % 4], s.left_ms()), "gone"), Fault::drop, true, true);
    if (s.left_ms() > 0) s.part(scene.sticks, std::min(there_ms[i % 4], s.left_ms()), "there");
  }
}

void noise(Scene& s, const ReceiverScene& scene) {
  Move& move = s.rest(scene.sticks);
  s.fault(move, Fault::drop, true, true);
  for (const auto& [input, us] : scene.sticks) {
    ChannelFault storm{.input = input, .fault = Fault::storm, .at_us = 100, .width_us = kNoiseUs, .for_us = kNoiseForUs};
    storm.at_to_us = 1000;
    storm.share = kNoiseShare;
    move.faults.push_back(storm);
  }
}

void after_reboot(Scene& s, const ReceiverScene& scene) {
  s.fault(s.part(scene.sticks, s.left_ms() * 0.8, "silent"), Fault::drop, true, true);
  s.rest(scene.sticks, "back");
}

void lost(Scene& s, const ReceiverScene& scene, std::string_view name) {
  if (name == "silent") s.silent("");
  if (name == "hold_last") s.rest(scene.sticks);
  if (name == "preset") s.rest(scene.preset);
  if (name == "throttle_silent_others_hold") s.fault(s.rest(scene.sticks), Fault::drop, true, false);
  if (name == "some_channels") s.fault(s.rest(scene.sticks), Fault::drop, false, true);
  if (name == "frozen_high") s.fault(s.rest(scene.sticks), Fault::stuck_high, true, true);
  if (name == "low_then_silent") s.part(s.all_at(kLowUs), kLowMs), s.silent("silent");
  if (name == "neutral_then_silent") s.part(s.all_at(kNeutralUs), kNeutralMs), s.silent("silent");
  if (name == "all_880") s.rest(s.all_at(kVeryLowUs));
  if (name == "throttle_920") s.rest(s.throttle_at(scene.sticks, kThrottleLowUs));
}

void other(Scene& s, const ReceiverScene& scene, std::string_view name) {
  if (name == "instant") s.rest(scene.sticks);
  if (name == "after_reboot") after_reboot(s, scene);
  if (name == "flapping") flapping(s, scene);
  if (name == "throttle_silent_until_link") s.fault(s.rest(scene.preset), Fault::drop, true, false);
  if (name == "preset_before_link") s.rest(scene.preset);
  if (name == "noise_before_firmware") noise(s, scene);
  if (name == "one_junk_frame_then_silence")
    s.part(s.throttle_at(scene.preset, scene.throttle_high_us), scene.frame_ms), s.silent("silent");
  if (name == "one_low_frame_then_silence") s.part(s.throttle_at(scene.preset, kJunkLowUs), scene.frame_ms), s.silent("silent");
}

}  // namespace

const std::vector<ReceiverBehaviour>& receiver_behaviours() {
  using enum ReceiverState;
  static const std::vector<ReceiverBehaviour> all{
      {"silent", loss, "no pulses", 0},
      {"hold_last", loss, "the last stick positions go on", 0},
      {"preset", loss, "stored positions, usually neutral", 0},
      {"throttle_silent_others_hold", loss, "no throttle pulses; the others hold", 0},
      {"some_channels", loss, "throttle goes on; the others stop", 0},
      {"frozen_high", loss, "all lines frozen high", 0},
      {"low_then_silent", loss, "all at 800 us for 1.5 s, then no pulses", kLowMs},
      {"neutral_then_silent", loss, "all at 1500 us for 2 s, then no pulses", kNeutralMs},
      {"all_880", loss, "all at 880 us", 0},
      {"throttle_920", loss, "throttle at 920 us; the others hold", 0},
      {"instant", recovery, "the sticks at once", 0},
      {"after_reboot", recovery, "no pulses for four fifths of the time, then the sticks", 0},
      {"flapping", recovery, "the link comes and goes", 0},
      {"throttle_silent_until_link", boot, "no throttle pulses; the others at their preset", 0},
      {"preset_before_link", boot, "stored positions, usually neutral", 0},
      {"noise_before_firmware", boot, "spikes on all lines, no pulses", 0},
      {"one_junk_frame_then_silence", boot, "one frame at full throttle, then no pulses", 0},
      {"one_low_frame_then_silence", boot, "one frame with throttle at 881 us, then no pulses", 0},
  };
  return all;
}

const ReceiverBehaviour* receiver_behaviour(std::string_view name) {
  const auto& all = receiver_behaviours();
  const auto it = std::ranges::find(all, name, &ReceiverBehaviour::name);
  return it == all.end() ? nullptr : &*it;
}

std::optional<std::vector<Move>> receiver_moves(std::string_view name, const ReceiverScene& scene, double for_ms) {
  const ReceiverBehaviour* behaviour = receiver_behaviour(name);
  if (!behaviour || for_ms < behaviour->least_ms + 2 * scene.frame_ms) return std::nullopt;
  Scene s(scene, name, for_ms);
  if (behaviour->state == ReceiverState::loss)
    lost(s, scene, name);
  else
    other(s, scene, name);
  return s.take();
}

}  // namespace midstick::script
