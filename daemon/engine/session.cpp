#include "daemon/engine/session.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <variant>

#include "daemon/link/pump.hpp"

namespace midstick::engine {
namespace {

constexpr HostSpan kLongestWait = host_ms(20);         ///< between two looks at the stop flag
constexpr HostSpan kGreetingPatience = host_ms(8000);  ///< the link gives up earlier; this only bounds a misbehaving port
constexpr HostSpan kQueryEvery = host_ms(10);          ///< while the clock is being acquired
constexpr HostSpan kStopPatience = host_ms(1000);

Error stopped() { return {ErrorKind::stopped, "stopped by the operator before anything was powered"}; }

}  // namespace

Status Session::open() {
  link_.open(transport_.now());
  const HostTime give_up = transport_.now() + kGreetingPatience;
  while (!link_.ready()) {
    if (stop_requested()) return stopped();
    if (auto s = step(transport_.now() + kLongestWait, {}); !s) return s;
    if (transport_.now() > give_up) return Error{ErrorKind::bench_missing, transport_.address() + ": no bench board answers"};
  }
  return Ok{};
}

Status Session::settle_clock(double ppm, HostSpan patience) {
  clock::EstimatorSettings settings;
  settings.target_ppm = ppm;
  estimator_ = clock::ClockEstimator(link_.hello().boot_id, settings);
  host_at_settling_ = transport_.host_clocks();
  const HostTime give_up = transport_.now() + patience;
  while (estimator_.needs_more()) {
    if (stop_requested()) return stopped();
    sample_clock(kQueryEvery);
    if (auto s = step(std::min(transport_.now() + kLongestWait, next_query_), {}); !s) return s;
    if (transport_.now() > give_up)
      return Error{ErrorKind::bench_unfit, transport_.address() + ": the board's clock could not be measured to " +
                                               std::to_string(static_cast<int>(ppm)) + " ppm in " +
                                               std::to_string(patience.count / 1'000'000) + " ms; got to " +
                                               std::to_string(std::lround(estimator_.map().uncertainty_ppm)) + " ppm with " +
                                               std::to_string(estimator_.map().samples) + " samples"};
  }
  return Ok{};
}

Status Session::step(HostTime until, const std::function<void(const link::LinkEvent&)>& sink) {
  auto pumped = link::pump(link_, transport_, until);
  while (auto event = link_.next_event()) {
    if (const auto* sampled = std::get_if<link::ClockSampled>(&*event)) estimator_.add(sampled->sample);
    if (sink) sink(*event);
  }
  if (!pumped) return pumped;
  if (link_.failed()) return *link_.error();
  return Ok{};
}

void Session::sample_clock(HostSpan every) {
  const HostTime now = transport_.now();
  if (now < next_query_) return;
  next_query_ = now + estimator_.next_query_after(every);  // dithered, so that it never keeps step with the path
  link_.query_clock(now);
}

void Session::make_safe() {
  if (!link_.ready()) return;
  link_.stop(transport_.now());
  const HostTime give_up = transport_.now() + kStopPatience;
  while (!link_.idle() && transport_.now() < give_up)
    if (auto s = step(transport_.now() + kLongestWait, {}); !s) return;  // port gone: the board's own time limit stops it
}

clock::ClockFacts Session::clock_facts() const {
  clock::HostClock host;
  if (const auto reading = transport_.host_clocks(); reading && host_at_settling_)
    host = {false, clock::host_synchronised(), clock::disciplined_ppm(*host_at_settling_, *reading)};
  return estimator_.facts(transport_.now(), host);
}

capture::Identity Session::identity() const {
  const auto& hello = link_.hello();
  char hash[9];
  std::snprintf(hash, sizeof hash, "%08x", static_cast<unsigned>(hello.schema_hash));
  const std::string firmware = std::to_string(hello.firmware_major) + "." + std::to_string(hello.firmware_minor);
  return {"bench board, firmware " + firmware + ", boot " + std::to_string(hello.boot_id),
          hello.boot_id,
          firmware,
          hash,
          "",
          "",
          transport_.address()};
}

}  // namespace midstick::engine
