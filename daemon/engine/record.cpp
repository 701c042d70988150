#include "daemon/engine/record.hpp"

#include <algorithm>

#include "daemon/engine/player.hpp"
#include "daemon/engine/recorder.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/write_sticks.hpp"

namespace midstick::engine {
namespace {

constexpr HostSpan kClockEvery = host_ms(100), kLongestWait = host_ms(20);
constexpr const char* kWiring[] = {"R1", "R2", "P1", "P2", "P3", "P4", "P5", "P6"};

HostSpan seconds_span(double s) { return HostSpan{static_cast<std::int64_t>(s * 1e9)}; }

/// The recorder's capture, made ready for study.
capture::Capture finished(Session& session, Recorder& recorder, capture::Segment steps) {
  capture::Capture capture = std::move(recorder.capture());
  capture.clock = session.clock().whole_map();
  capture.clock_facts = session.clock_facts();
  capture.identity = session.identity();
  capture.end = steps.end;
  capture.complete = true;
  std::ranges::stable_sort(capture.response, {}, &capture::Edge::at);
  capture.segments = {std::move(steps)};
  return capture;
}

void prompt(const RecordRequest& request, const script::ControllerDescription& controller) {
  if (!request.on_notice) return;
  request.on_notice("Wire the receiver's signal wires and ground, and nothing else of it, to the bench's capture lines:");
  for (std::size_t i = 0; i < controller.inputs.size(); ++i)
    request.on_notice("  " + controller.inputs[i].name + " to " + kWiring[i] + (i > 1 ? " (stamps within 0.5 us)" : ""));
  request.on_notice(
      "CAUTION: the receiver has its own supply; never join its 5 V to the bench's. Unplug every ESC and servo from it first:");
  request.on_notice("         switching the transmitter off makes some receivers send full throttle.");
}

}  // namespace

Result<capture::Capture> listen(Session& session, std::size_t channels, double seconds,
                                const std::function<void(const RecordStep&)>& on_step, std::span<const RecordStep> all) {
  Recorder recorder;
  session.link().start(kRefreshMs, static_cast<std::uint8_t>((1u << channels) - 1), session.now());
  const auto board_now = [&] { return session.link().board_now(session.now()).value_or(session.clock_map().to_board(session.now())); };
  const auto sink = [&](const link::LinkEvent& e) { recorder.take(e); };
  const int suspicions = session.clock().suspicions();
  recorder.capture().begin = board_now();
  capture::Segment steps{0, 0, board_now(), {}, {}};
  for (const RecordStep& step : all) {
    steps.marks.push_back({board_now(), step.mark, {}});
    if (on_step) on_step(step);
    const HostTime until = session.now() + seconds_span(seconds * step.share);
    while (session.now() < until) {
      if (session.stop_requested()) return session.make_safe(), Error{ErrorKind::stopped, "stopped by the operator; nothing was recorded"};
      session.sample_clock(kClockEvery);
      if (auto s = session.step(std::min(until, session.now() + kLongestWait), sink); !s) return s.error();
      if (recorder.trouble()) return *recorder.trouble();
      if (session.clock().suspicions() != suspicions)
        return session.make_safe(), Error{ErrorKind::bench_unfit, "the board's clock contradicted itself; nothing was recorded"};
    }
  }
  steps.end = board_now();
  session.make_safe();
  return finished(session, recorder, std::move(steps));
}

Result<ReceiverFinding> record(const RecordRequest& request, const std::atomic<bool>& stop) {
  std::error_code ignored;
  if (std::filesystem::exists(request.out, ignored))
    return Error{ErrorKind::usage, request.out.string() + ": already exists; expected the name of a new file"};
  const auto controller = script::load_controller(request.controller);
  if (!controller) return controller.error();
  const auto spec = script::load_mixer(request.mixer);
  if (!spec) return spec.error();
  auto bench = open_bench(request.bench, request.conditions);
  if (!bench) return bench.error();
  Session session(*bench->transport, stop);
  if (auto s = session.open(); !s) return s.error();
  if (auto s = session.settle_clock(kClockPpm, kClockPatience); !s) return s.error();
  prompt(request, *controller);
  const auto on_step = [&](const RecordStep& step) {
    if (request.on_notice)
      request.on_notice("NOW, for " + std::to_string(static_cast<int>(request.seconds * step.share)) + " s: " + step.prompt);
  };
  const auto capture = listen(session, controller->inputs.size(), request.seconds, on_step);
  if (!capture) return capture.error();
  std::vector<std::string> channels;
  for (const auto& pin : controller->inputs) channels.push_back(pin.name);
  auto finding = study(*capture, channels, *spec, request.out.stem().string());
  if (!finding) return finding;
  if (auto s = script::write_sticks(request.out.string(), finding->script, finding->notes); !s) return s.error();
  return finding;
}

}  // namespace midstick::engine
