#include "daemon/engine/receiver_study.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include "daemon/engine/receiver_signal.hpp"
#include "daemon/script/receiver.hpp"

namespace midstick::engine {
namespace {

constexpr double kSettleUs = 500'000;  // after a prompt, before a person has done as asked
constexpr double kTailUs = 1'000'000, kBeforeSilenceUs = 900'000;
constexpr std::size_t kNeeded = 10;
constexpr double kTogetherUs = 20, kGapUs = 200, kGapOffUs = 100, kOverlapOffUs = 30;
constexpr double kSameUs = 40, kFlapFrames = 5;
constexpr std::size_t kMostPoints = 5000;

using Order = script::ReceiverFrame::Order;

double tenth(double us) { return std::round(us * 10) / 10; }

void study_rest(const Signal& signal, ReceiverFinding& f) {
  const Stretch rest = signal.step("rest", kSettleUs);
  std::vector<double> periods;
  const auto first = signal.pulses(0, rest);
  for (std::size_t i = 1; i < first.size(); ++i) periods.push_back(first[i].rise_us - first[i - 1].rise_us);
  f.period_us = tenth(middle(periods));
  f.period_spread_us = spread(periods);
  for (std::size_t c = 0; c < f.channels.size(); ++c) {
    const auto widths = widths_of(signal.pulses(c, rest));
    f.channels[c].centre_us = tenth(middle(widths));
    f.channels[c].jitter_us = tenth(spread(widths));
    auto travel = widths_of(signal.pulses(c, signal.step("travel", 0)));
    travel.push_back(f.channels[c].centre_us);
    const auto [low, high] = std::ranges::minmax(travel);
    f.channels[c].low_us = tenth(low), f.channels[c].high_us = tenth(high);
    f.channels[c].held_us = tenth(middle(widths_of(signal.pulses(c, signal.tail("held", kTailUs)))));
  }
}

/// Channels in the order in which they rise, beginning after the frame's longest pause; sets their phases.
std::vector<std::size_t> rising_order(const Signal& signal, ReceiverFinding& f) {
  const Stretch rest = signal.step("rest", kSettleUs);
  const double period = f.period_us;
  std::vector<double> offset;
  for (std::size_t c = 0; c < f.channels.size(); ++c) {
    const double o = middle(signal.rises_after(0, c, rest, period));
    offset.push_back(std::fmod(o + period, period));
  }
  for (double& o : offset)
    if (period - o < kTogetherUs) o = 0;  // together with the first, give or take
  std::vector<std::size_t> order(offset.size());
  std::iota(order.begin(), order.end(), 0u);
  std::ranges::stable_sort(order, {}, [&](std::size_t c) { return offset[c]; });
  std::size_t start = 0;
  double longest = -1e9;
  for (std::size_t i = 0; i < order.size(); ++i) {
    const std::size_t before = order[(i + order.size() - 1) % order.size()];
    const double pause = std::fmod(offset[order[i]] - offset[before] + 2 * period, period) - f.channels[before].centre_us;
    const double wrapped = order.size() == 1 ? period : pause;
    if (wrapped > longest) longest = wrapped, start = i;
  }
  std::ranges::rotate(order, order.begin() + static_cast<std::ptrdiff_t>(start));
  for (const std::size_t c : order) f.channels[c].phase_us = tenth(std::fmod(offset[c] - offset[order[0]] + period, period) + kGapUs);
  return order;
}

/// Does each channel of the order hang on the fall of the one before it, and at which distance? Nothing when it hangs on its rise.
std::optional<std::vector<double>> gaps_behind(const Signal& signal, const std::vector<std::size_t>& order, double period_us) {
  const Stretch all = signal.step("travel", 0);
  std::vector<double> gaps;
  for (std::size_t i = 1; i < order.size(); ++i) {
    const auto from_rise = signal.rises_after(order[i - 1], order[i], all, period_us);
    const auto from_fall = signal.rises_after_fall(order[i - 1], order[i], all, period_us);
    if (spread(from_fall) > spread(from_rise) / 2) return std::nullopt;
    gaps.push_back(middle(from_fall));
  }
  return gaps;
}

void study_order(const Signal& signal, ReceiverFinding& f) {
  const auto order = rising_order(signal, f);
  const bool forward = std::ranges::is_sorted(order), backward = std::ranges::is_sorted(order, std::greater<>());
  const double first = f.channels[order[0]].phase_us;
  if (f.channels.size() > 1 &&
      std::ranges::all_of(f.channels, [&](const auto& c) { return std::abs(c.phase_us - first) <= kTogetherUs; })) {
    f.order = Order::simultaneous;
    return;
  }
  const auto gaps = gaps_behind(signal, order, f.period_us);
  f.own_phases = true;
  if (!gaps) return;
  const auto near = [&](double us, double off) { return std::ranges::all_of(*gaps, [&](double g) { return std::abs(g - us) <= off; }); };
  if (near(kGapUs, kGapOffUs) && (forward || backward)) {
    f.order = forward ? Order::sequential : Order::reversed;
    f.own_phases = false;
  } else if (const double overlap = -middle(*gaps); overlap > 0 && forward && near(-overlap, kOverlapOffUs)) {
    f.order = Order::overlapping;
    f.overlap_us = tenth(overlap);
    f.own_phases = false;
  }
}

/// Every channel's width while the link was lost; nothing for a channel without pulses.
using Widths = std::vector<std::optional<double>>;
Widths widths_in(const Signal& signal, std::size_t channels, Stretch stretch) {
  Widths out(channels);
  for (std::size_t c = 0; c < channels; ++c)
    if (const auto widths = widths_of(signal.pulses(c, stretch)); widths.size() >= 3) out[c] = middle(widths);
  return out;
}

std::string silent_loss(const Signal& signal, const ReceiverFinding& f) {
  double last = 0;
  for (std::size_t c = 0; c < f.channels.size(); ++c)
    for (const auto& p : signal.pulses(c, signal.step("off", 0))) last = std::max(last, p.rise_us + p.width_us);
  if (last == 0) return "silent";
  const auto before = widths_in(signal, f.channels.size(), {last - kBeforeSilenceUs, last + 1});
  const auto all_near = [&](double us) {
    return std::ranges::all_of(before, [&](const auto& w) { return w && std::abs(*w - us) <= kSameUs; });
  };
  const bool held_off_centre = std::ranges::any_of(f.channels, [](const auto& c) { return std::abs(c.held_us - 1500) > kSameUs; });
  if (all_near(800)) return "low_then_silent";
  return all_near(1500) && held_off_centre ? "neutral_then_silent" : "silent";
}

/// Channels with pulses throughout: which name fits their widths?
std::string sending_loss(const Widths& now, const ReceiverFinding& f, std::size_t throttle) {
  bool held = true, all_880 = true, others_held = true;
  for (std::size_t c = 0; c < now.size(); ++c) {
    const bool same = std::abs(*now[c] - f.channels[c].held_us) <= kSameUs / 2;
    held = held && same;
    others_held = others_held && (same || c == throttle);
    all_880 = all_880 && std::abs(*now[c] - 880) <= kSameUs / 2;
  }
  if (all_880) return "all_880";
  if (held) return "hold_last";
  return others_held && std::abs(*now[throttle] - 920) <= kSameUs / 2 ? "throttle_920" : "preset";
}

void study_loss(const Signal& signal, ReceiverFinding& f, std::size_t throttle) {
  const Stretch tail = signal.tail("off", kTailUs);
  const auto now = widths_in(signal, f.channels.size(), tail);
  std::size_t high = 0, sending = 0, others = 0;
  for (std::size_t c = 0; c < now.size(); ++c) {
    high += signal.high_at(c, (tail.begin_us + tail.end_us) / 2);
    sending += now[c].has_value();
    others += c != throttle && now[c];
  }
  if (sending == 0 && high == now.size())
    f.loss = "frozen_high";
  else if (sending == 0 && high == 0)
    f.loss = silent_loss(signal, f);
  else if (sending == now.size())
    f.loss = sending_loss(now, f, throttle);
  else if (!now[throttle] && others == now.size() - 1)
    f.loss = "throttle_silent_others_hold";
  else if (now[throttle] && others == 0)
    f.loss = "some_channels";
  for (std::size_t c = 0; c < now.size(); ++c)
    if (now[c]) f.preset[f.channels[c].name] = tenth(*now[c]);
  if (sending == now.size()) return;  // nothing was gone that could come back
  const auto back = signal.pulses(throttle, signal.step("on", 0));
  if (back.empty()) return;
  f.recovery = "instant";
  for (std::size_t i = 1; i < back.size(); ++i)
    if (back[i].rise_us - back[i - 1].rise_us > kFlapFrames * f.period_us) f.recovery = "flapping";
}

/// The sticks as they were moved, a point a frame.
script::Move travelled(const Signal& signal, const ReceiverFinding& f, const script::ReceiverFrame& frame) {
  script::Move move;
  move.kind = script::Move::Kind::points;
  move.point_ms = f.period_us / 1e3;
  move.frame = frame;
  move.frame->jitter_us = 0;  // it is in the widths
  std::map<std::string, double> now;
  for (const auto& c : f.channels) now[c.name] = c.centre_us;
  const Stretch travel = signal.step("travel", 0);
  std::vector<std::size_t> at(f.channels.size(), 0);
  for (double t = travel.begin_us; t + f.period_us <= travel.end_us && move.points.size() < kMostPoints; t += f.period_us) {
    for (std::size_t c = 0; c < f.channels.size(); ++c)
      if (const auto p = signal.first_in(c, {t, t + f.period_us})) now[f.channels[c].name] = tenth(p->width_us);
    move.points.push_back(now);
  }
  move.for_ms = move.point_ms * static_cast<double>(move.points.size());
  return move;
}

script::StickScript played_again(const Signal& signal, const ReceiverFinding& f, const mixer::MixerSpec& spec, const std::string& name) {
  script::StickScript out;
  out.name = name;
  out.frame.period_us = f.period_us;
  out.frame.order = f.own_phases ? Order::sequential : f.order;
  if (f.order == Order::overlapping) out.frame.overlap_us = f.overlap_us;
  script::Move rest, held;
  double jitter = 0;
  for (const auto& c : f.channels) {
    if (f.own_phases) out.frame.phase_us[c.name] = c.phase_us;
    rest.from[c.name] = c.centre_us;
    held.from[c.name] = c.held_us;
    jitter = std::max(jitter, c.jitter_us);
  }
  out.frame.jitter_us = jitter;
  const double frame_ms = f.period_us / 1e3;
  rest.for_ms = held.for_ms = std::ceil(1000 / frame_ms) * frame_ms;
  rest.mark = "rest", held.mark = "held";
  out.moves = {rest, travelled(signal, f, out.frame), held};
  if (f.loss.empty()) return out;
  script::ReceiverScene scene{spec.throttle.name, held.from, f.preset, f.channels[0].high_us, frame_ms};
  for (const auto& [input, us] : held.from) scene.preset.try_emplace(input, us);
  const double least = script::receiver_behaviour(f.loss)->least_ms;
  if (auto moves = script::receiver_moves(f.loss, scene, least + 2000)) std::ranges::move(*moves, std::back_inserter(out.moves));
  if (f.recovery == "flapping")
    if (auto moves = script::receiver_moves(f.recovery, scene, 3000)) std::ranges::move(*moves, std::back_inserter(out.moves));
  held.mark = "back";
  out.moves.push_back(held);
  return out;
}

std::string us(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f us", value);
  return text;
}

void note(ReceiverFinding& f, const mixer::MixerSpec& spec) {
  static constexpr const char* orders[] = {"one after another", "one after another, backwards", "all together", "overlapping"};
  f.notes.push_back("frame " + us(f.period_us) + ", varying by " + us(f.period_spread_us) + " either way (middle 95 %)");
  f.notes.push_back(std::string("channels come ") + (f.own_phases ? "each at a phase of its own" : orders[static_cast<int>(f.order)]));
  for (const auto& c : f.channels) {
    const auto* in = c.name == spec.throttle.name ? &spec.throttle : c.name == spec.steering.name ? &spec.steering : nullptr;
    f.notes.push_back(c.name + ": " + us(c.low_us) + " to " + us(c.high_us) + ", at rest " + us(c.centre_us) +
                      (in ? " (trim " + us(c.centre_us - in->centre_us) + " from the mixer spec's centre)" : "") + ", jitter " +
                      us(c.jitter_us) + ", rises " + us(c.phase_us) + " after the frame's start");
  }
  f.notes.push_back(f.loss.empty() ? "transmitter off: fits none of the known behaviours; not in this script"
                                   : "transmitter off: " + f.loss + " (how soon after the switch is not known)");
  if (!f.recovery.empty()) f.notes.push_back("transmitter on again: " + f.recovery);
}

}  // namespace

Result<ReceiverFinding> study(const capture::Capture& recording, const std::vector<std::string>& channels, const mixer::MixerSpec& spec,
                              const std::string& name) {
  const auto unfit = [](const std::string& what) { return Error{ErrorKind::bench_unfit, "the recording cannot be used: " + what}; };
  if (recording.segments.empty()) return unfit("it has no steps");
  const Signal signal(recording, channels.size());
  for (const RecordStep& step : kRecordSteps)
    if (!signal.has(step.mark)) return unfit(std::string("the step \"") + step.mark + "\" is missing");
  ReceiverFinding f;
  std::size_t throttle = channels.size();
  for (std::size_t c = 0; c < channels.size(); ++c) {
    f.channels.push_back({channels[c]});
    if (channels[c] == spec.throttle.name) throttle = c;
    for (const auto& [step, stretch] : {std::pair("rest", signal.step("rest", kSettleUs)), {"held", signal.tail("held", kTailUs)}})
      if (signal.pulses(c, stretch).size() < kNeeded)
        return unfit("channel " + channels[c] + " gave fewer than 10 pulses in the step \"" + step +
                     "\"; is it wired to its capture line?");
  }
  if (throttle == channels.size()) return unfit("no channel is called " + spec.throttle.name + ", as the mixer spec's throttle is");
  study_rest(signal, f);
  study_order(signal, f);
  study_loss(signal, f, throttle);
  f.script = played_again(signal, f, spec, name);
  note(f, spec);
  return f;
}

}  // namespace midstick::engine
