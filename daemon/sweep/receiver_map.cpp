#include "daemon/sweep/receiver_map.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/engine/receiver_signal.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::sweep {
namespace {

using engine::Signal;
using engine::Stretch;

constexpr double kSettleUs = 700'000;  ///< after a prompt, before a person has done as asked
constexpr double kHeldUs = 12;         ///< widths of a held stick lie within this of each other
constexpr std::size_t kHeldPulses = 8, kNeeded = 10;
constexpr double kNominalUs = 1500;
constexpr double kStepFloorUs = 0.2;  ///< smaller differences are the bench's own stamps

const char* const kEnds[] = {"one end", "the other end"};

std::string mark_of(const std::string& channel, int end, bool held) {
  return channel + (held ? " held at " : " released from ") + kEnds[end];
}

/// U (95 %) of one width as the bench stamps it.
double stamp_u(const capture::Capture& capture) {
  double u = 0;
  for (std::size_t i = 0; i < std::min<std::size_t>(capture.response.size(), 50); ++i) {
    const std::uint16_t half = capture.response[i].half_width;
    u = std::max(u, judge::span_uncertainty_us(capture, capture.clock.ticks(script_us(1500)), half, half));
  }
  return u;
}

class Study {
 public:
  Study(const capture::Capture& recording, const std::vector<std::string>& channels)
      : recording_(recording), channels_(channels), signal_(recording, channels.size()), common_(stamp_u(recording)) {}

  const Signal& signal() const { return signal_; }

  Value mean(std::size_t c, Stretch stretch) const {
    const auto s = statistics::summarise(engine::widths_of(signal_.pulses(c, stretch)));
    return {s.mean, judge::mean_uncertainty(s.sd, s.samples, common_)};
  }

  Value period() const {
    const auto pulses = signal_.pulses(0, signal_.step("rest", kSettleUs));
    std::vector<double> periods;
    for (std::size_t i = 1; i < pulses.size(); ++i) periods.push_back(pulses[i].rise_us - pulses[i - 1].rise_us);
    const auto s = statistics::summarise(periods);
    return {s.median, std::hypot(judge::mean_uncertainty(s.sd, s.samples, common_), s.median * recording_.clock.uncertainty_ppm / 1e6)};
  }

  /// Mean of the last stretch that was held still; nothing when none was long enough.
  std::optional<Value> held(std::size_t c, const std::string& mark) const {
    const auto widths = engine::widths_of(signal_.pulses(c, signal_.step(mark, 0)));
    for (std::size_t end = widths.size(); end >= kHeldPulses; --end) {
      const auto last = widths.begin() + static_cast<std::ptrdiff_t>(end);
      auto first = last - static_cast<std::ptrdiff_t>(kHeldPulses);
      const auto still = [&](auto from) {
        const auto [low, high] = std::minmax_element(from, last);
        return *high - *low <= kHeldUs;
      };
      if (!still(first)) continue;
      while (first != widths.begin() && still(first - 1)) --first;
      const auto s = statistics::summarise(std::span<const double>(first, last));
      return Value{s.mean, judge::mean_uncertainty(s.sd, s.samples, common_)};
    }
    return std::nullopt;
  }

  Result<ChannelMap> channel(std::size_t c) const {
    ChannelMap out;
    out.name = channels_[c];
    const Stretch rest = signal_.step("rest", kSettleUs);
    out.centre = mean(c, rest);
    out.trim = {out.centre.value - kNominalUs, out.centre.u};
    out.jitter_us = engine::spread(engine::widths_of(signal_.pulses(c, rest)));
    Value ends[2], backs[2];
    for (int end = 0; end < 2; ++end) {
      const auto at = held(c, mark_of(out.name, end, true));
      if (!at)
        return Error{ErrorKind::bench_unfit,
                     "channel " + out.name + " was never held still at " + kEnds[end] + " of its stick; sweep again"};
      ends[end] = *at;
      const Value back = mean(c, signal_.step(mark_of(out.name, end, false), kSettleUs));
      backs[end] = {back.value - out.centre.value, std::hypot(back.u, out.centre.u)};
    }
    const int low = ends[0].value < ends[1].value ? 0 : 1;
    out.low = ends[low], out.high = ends[1 - low];
    if (out.low.value > out.centre.value || out.high.value < out.centre.value)
      return Error{ErrorKind::bench_unfit, "channel " + out.name + " was not moved to both ends of its stick; sweep again"};
    out.back_from_low = backs[low], out.back_from_high = backs[1 - low];
    motion(c, out);
    return out;
  }

 private:
  /// What shows while this channel's stick moves: its own smallest step, and what the others do.
  void motion(std::size_t c, ChannelMap& out) const {
    out.smallest_step_us = 1e9;
    for (int end = 0; end < 2; ++end) {
      const Stretch stretch = signal_.step(mark_of(out.name, end, true), 0);
      const auto widths = engine::widths_of(signal_.pulses(c, stretch));
      for (std::size_t i = 1; i < widths.size(); ++i)
        if (const double step = std::abs(widths[i] - widths[i - 1]); step > kStepFloorUs)
          out.smallest_step_us = std::min(out.smallest_step_us, step);
      for (std::size_t other = 0; other < channels_.size(); ++other)
        if (other != c) {
          const double rest = mean(other, signal_.step("rest", kSettleUs)).value;
          for (const double us : engine::widths_of(signal_.pulses(other, stretch)))
            out.others_us = std::max(out.others_us, std::abs(us - rest));
        }
    }
  }

  const capture::Capture& recording_;
  const std::vector<std::string>& channels_;
  Signal signal_;
  double common_;
};

}  // namespace

std::vector<ReceiverStep> receiver_steps(const std::vector<std::string>& channels) {
  constexpr double kRestShare = 0.12;
  std::vector<ReceiverStep> out{{"rest", "Release all sticks and leave them alone.", kRestShare}};
  const double share = (1 - kRestShare) / static_cast<double>(channels.size()) / 4;
  for (const std::string& c : channels)
    for (int end = 0; end < 2; ++end) {
      out.push_back({mark_of(c, end, true), "Move " + c + " slowly to " + kEnds[end] + " and hold it there. Leave the other sticks alone.",
                     share * 1.2});
      out.push_back({mark_of(c, end, false), "Let go of " + c + ".", share * 0.8});
    }
  return out;
}

Result<ReceiverMap> receiver_map_of(const capture::Capture& recording, const std::vector<std::string>& channels, const std::string& name) {
  const auto unfit = [](const std::string& what) { return Error{ErrorKind::bench_unfit, "the sweep cannot be used: " + what}; };
  if (recording.segments.empty()) return unfit("it has no steps");
  const Study study(recording, channels);
  for (const ReceiverStep& step : receiver_steps(channels))
    if (!study.signal().has(step.mark)) return unfit("the step \"" + step.mark + "\" is missing");
  for (std::size_t c = 0; c < channels.size(); ++c)
    if (study.signal().pulses(c, study.signal().step("rest", kSettleUs)).size() < kNeeded)
      return unfit("channel " + channels[c] + " gave fewer than 10 pulses at rest; is it wired to its capture line?");
  ReceiverMap map{name, recording.identity.bench_address, study.period(), {}};
  for (std::size_t c = 0; c < channels.size(); ++c) {
    auto channel = study.channel(c);
    if (!channel) return channel.error();
    map.channels.push_back(channel.take());
  }
  return map;
}

}  // namespace midstick::sweep
