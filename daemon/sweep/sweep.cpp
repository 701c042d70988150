#include "daemon/sweep/sweep.hpp"

#include <nlohmann/json.hpp>

#include "daemon/engine/record.hpp"
#include "daemon/engine/when_where.hpp"
#include "daemon/report/caution.hpp"
#include "daemon/script/load.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/run_folder.hpp"
#include "daemon/sweep/spec_of.hpp"
#include "daemon/sweep/write_map.hpp"

namespace midstick::sweep {
namespace {

namespace fs = std::filesystem;

constexpr const char* kProgram = "midstick " MIDSTICK_VERSION;
constexpr const char* kWiring[] = {"R1", "R2", "P1", "P2", "P3", "P4", "P5", "P6"};

/// The bench open, its controller known, its board greeted, its clock settled; the folder made. Nothing is powered.
struct Ready {
  engine::OpenBench bench;
  script::ControllerDescription controller;
  std::unique_ptr<engine::Session> session;
  std::optional<store::RunFolder> folder;
  MapFacts facts;
};

Result<Ready> prepare(const Request& request, const std::atomic<bool>& stop) {
  std::error_code ignored;
  if (fs::exists(request.out, ignored) && !(fs::is_directory(request.out, ignored) && fs::is_empty(request.out, ignored)))
    return Error{ErrorKind::usage, request.out.string() + ": already exists; expected a new or an empty folder for the map"};
  Ready ready;
  if (!request.controller.empty()) {
    auto controller = script::load_controller(request.controller);
    if (!controller) return controller.error();
    ready.controller = controller.take();
  }
  auto bench = engine::open_bench(request.bench, request.conditions);
  if (!bench) return bench.error();
  ready.bench = bench.take();
  if (request.controller.empty()) {
    if (!ready.bench.controller)
      return Error{ErrorKind::usage, "expected --controller: on this bench only its description says what is wired where"};
    ready.controller = *ready.bench.controller;
  }
  ready.session = std::make_unique<engine::Session>(*ready.bench.transport, stop);
  if (auto s = ready.session->open(); !s) return s.error();
  if (auto s = ready.session->settle_clock(engine::kClockPpm, engine::kClockPatience); !s) return s.error();
  ready.facts = {kProgram, engine::utc_now()};
  auto folder = store::RunFolder::create(
      request.out, {{"started", ready.facts.when}, {"bench", request.bench}, {"sweep", ready.controller.name}, {"seed", request.seed}});
  if (!folder) return folder.error();
  ready.folder = folder.take();
  return ready;
}

Status check_lines(const Ready& ready) {
  const auto& hello = ready.session->link().hello();
  for (const auto& pin : ready.controller.outputs)
    if (pin.line_no >= hello.capture_lines + hello.pin_change_lines)
      return Error{ErrorKind::bench_missing, "output \"" + pin.name + "\" is on line " + pin.line + ", which this board does not have"};
  return Ok{};
}

template <class AnyMap>
Status keep(const Ready& ready, const capture::Capture& capture, const AnyMap& map) {
  if (auto s = ready.folder->write_capture(capture); !s) return s;
  return write_map(ready.folder->path(), map, ready.facts);
}

void caution(const Request& request) {
  if (!request.on_notice || request.bench.starts_with("virtual:")) return;  // nothing real is powered there
  request.on_notice("CAUTION: the controller on this bench is about to be powered and driven to full stick, past its usual ends.");
  for (const char* line : report::kCautions) request.on_notice(std::string("  - ") + line);
}

void prompt_wiring(const Request& request, const std::vector<std::string>& channels) {
  if (!request.on_notice) return;
  request.on_notice("Wire the receiver's signal wires and ground, and nothing else of it, to the bench's capture lines:");
  for (std::size_t i = 0; i < channels.size(); ++i) request.on_notice("  " + channels[i] + " to " + kWiring[i]);
  request.on_notice(
      "CAUTION: the receiver has its own supply; never join its 5 V to the bench's. Unplug every ESC and servo from it first.");
}

}  // namespace

template <class AnyMap>
Status write_map(const fs::path& folder, const AnyMap& map, const MapFacts& facts) {
  const std::pair<const char*, std::string> files[] = {
      {"map.json", map_json(map, facts)}, {"map.csv", map_csv(map)}, {"map.h", map_header(map, facts)}, {"map.html", map_html(map, facts)}};
  for (const auto& [name, text] : files)
    if (auto s = store::replace_file(folder / name, text); !s) return s;
  return Ok{};
}
template Status write_map(const fs::path&, const Map&, const MapFacts&);
template Status write_map(const fs::path&, const ReceiverMap&, const MapFacts&);

Result<Swept> sweep(const Request& request, const std::atomic<bool>& stop) {
  auto ready = prepare(request, stop);
  if (!ready) return ready.error();
  if (auto s = check_lines(*ready); !s) return s.error();
  caution(request);
  auto capture = play(*ready->session, ready->controller, {request.settings, request.seed, request.on_progress});
  if (!capture) return capture.error();
  capture->identity.controller_image = ready->bench.image_fingerprint;
  auto map = map_of(*capture, ready->controller, request.settings);
  if (!map) return map.error();
  if (auto s = keep(*ready, *capture, *map); !s) return s.error();
  Swept out{map.take(), ""};
  if (const auto spec = spec_of(out.map)) {
    out.mixer = "mixer.json: " + spec->how;
    if (auto s = store::replace_file(request.out / "mixer.json", spec->mixer.dump(1) + "\n"); !s) return s.error();
  } else {
    out.mixer = "no mixer.json: " + spec.error().message;
  }
  if (auto s = ready->folder->complete(); !s) return s.error();
  return out;
}

Result<ReceiverMap> sweep_receiver(const Request& request, const std::atomic<bool>& stop) {
  auto ready = prepare(request, stop);
  if (!ready) return ready.error();
  std::vector<std::string> channels;
  for (const auto& pin : ready->controller.inputs) channels.push_back(pin.name);
  prompt_wiring(request, channels);
  const auto steps = receiver_steps(channels);
  std::vector<engine::RecordStep> asked;
  for (const auto& s : steps) asked.push_back({s.mark.c_str(), s.prompt.c_str(), s.share});
  const auto on_step = [&](const engine::RecordStep& step) {
    if (request.on_notice)
      request.on_notice("NOW, for " + std::to_string(static_cast<int>(request.seconds * step.share)) + " s: " + step.prompt);
  };
  const auto capture = engine::listen(*ready->session, channels.size(), request.seconds, on_step, asked);
  if (!capture) return capture.error();
  auto map = receiver_map_of(*capture, channels, ready->controller.name);
  if (!map) return map;
  if (auto s = keep(*ready, *capture, *map); !s) return s.error();
  if (auto s = ready->folder->complete(); !s) return s.error();
  return map;
}

}  // namespace midstick::sweep
