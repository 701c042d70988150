#include "daemon/service/live_tap.hpp"

#include <nlohmann/json.hpp>

namespace midstick::service {
namespace {

using nlohmann::json;

constexpr double kSilentMs = 100;

double rounded(double value, double step) { return std::round(value / step) * step; }

}  // namespace

void LiveTap::take(const engine::Glimpse& glimpse, BoardTime at, std::uint8_t number, bool level, std::map<std::uint8_t, Line>& lines) {
  Line& line = lines[number];
  if (level) {
    line.rise = at;
  } else if (line.rise) {
    line.us = glimpse.clock.us(at - *line.rise);
    line.fresh.push_back({glimpse.clock.us(*line.rise - glimpse.zero) / 1e3, line.us});
    line.last_fall = at;
    line.rise.reset();
  }
}

std::optional<std::string> LiveTap::message(const engine::RunProgress& progress, Clock::time_point now) {
  if (sent_ && now - *sent_ < kEvery) return std::nullopt;
  sent_ = now;
  const engine::Glimpse& glimpse = progress.glimpse;
  for (; stimulus_seen_ < glimpse.stimulus.size() && glimpse.stimulus[stimulus_seen_].at <= glimpse.now; ++stimulus_seen_) {
    const auto& e = glimpse.stimulus[stimulus_seen_];
    take(glimpse, e.at, e.line, e.level, sticks_);
  }
  for (; response_seen_ < glimpse.response.size(); ++response_seen_) {
    const auto& e = glimpse.response[response_seen_];
    take(glimpse, e.at, e.line, e.level, outputs_);
  }
  json lines = json::array();
  const auto add = [&](const std::vector<script::ControllerPin>& pins, const char* side, std::map<std::uint8_t, Line>& from) {
    for (const auto& pin : pins) {
      Line& line = from[static_cast<std::uint8_t>(pin.line_no)];
      const bool heard = line.last_fall && glimpse.clock.us(glimpse.now - *line.last_fall) / 1e3 <= kSilentMs;
      const std::size_t skip = line.fresh.size() > kMostPulses ? line.fresh.size() - kMostPulses : 0;
      json pulses = json::array();
      for (std::size_t i = skip; i < line.fresh.size(); ++i)
        pulses.push_back({rounded(line.fresh[i].at_ms, 0.001), rounded(line.fresh[i].us, 0.01)});
      line.fresh.clear();
      lines.push_back({{"name", pin.name}, {"side", side}, {"us", heard ? json(rounded(line.us, 0.01)) : json()}, {"pulses", pulses}});
    }
  };
  add(progress.controller.inputs, "stick", sticks_);
  add(progress.controller.outputs, "output", outputs_);
  return json{{"type", "live"},
              {"bench", bench_},
              {"run", run_},
              {"check", progress.check},
              {"segment", progress.number},
              {"segments", progress.of},
              {"done_ms", progress.done_ms},
              {"total_ms", progress.total_ms},
              {"lines", lines}}
      .dump();
}

}  // namespace midstick::service
