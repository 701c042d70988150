// midstick bench ADDRESS: identity, limits, self-test.
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/engine/player.hpp"
#include "daemon/engine/reference.hpp"
#include "daemon/engine/self_test.hpp"

namespace midstick::cli {
namespace {

using nlohmann::json;

struct Options {
  std::string address;
  engine::VirtualConditions conditions;
  bool json{false};
  std::string reference;  ///< capture line; empty: none
  double reference_seconds{60};
};

using Reference = std::optional<engine::ReferenceReport>;

double us(std::uint32_t ticks) { return static_cast<double>(ticks) / kTicksPerUs; }

json reference_json(const engine::ReferenceReport& r) {
  return {{"board_ppm", r.board.board_ppm}, {"board_uncertainty_ppm", r.board.uncertainty_ppm},
          {"host_ppm", r.host_ppm},         {"host_uncertainty_ppm", r.host_uncertainty_ppm},
          {"pulses", r.board.pulses},       {"missing", r.board.missing},
          {"strays", r.board.strays}};
}

void print_reference(const engine::ReferenceReport& r) {
  std::printf("reference  %d pulses in %d s, %d missing, %d strays\n", r.board.pulses, r.board.seconds, r.board.missing, r.board.strays);
  std::printf("           board %+.3f ppm +- %.3f; this computer's raw clock %+.1f ppm +- %.1f (95 %%; + is fast)\n", r.board.board_ppm,
              r.board.uncertainty_ppm, r.host_ppm, r.host_uncertainty_ppm);
}

void print_json(const engine::BenchReport& r, const Reference& reference) {
  auto items = json::array();
  for (const auto& i : r.items) items.push_back({{"name", i.name}, {"ok", i.ok}, {"found", i.text}});
  const auto& h = r.hello;
  const json answer = {{"address", r.identity.bench_address},
                       {"board", r.identity.board},
                       {"boot_id", h.boot_id},
                       {"firmware", r.identity.firmware},
                       {"protocol", h.protocol},
                       {"schema_hash", r.identity.schema_hash},
                       {"fit", r.fit()},
                       {"self_test", items},
                       {"clock", {{"ppm", r.clock.ppm()}, {"uncertainty_ppm", r.clock.uncertainty_ppm}, {"samples", r.clock.samples}}},
                       {"reference", reference ? reference_json(*reference) : json(nullptr)},
                       {"supply_mv", r.supply_mv},
                       {"limits",
                        {{"stimulus_lines", h.stimulus_lines},
                         {"capture_lines", h.capture_lines},
                         {"pin_change_lines", h.pin_change_lines},
                         {"queue_depth", h.queue_depth},
                         {"shortest_level_us", us(h.shortest_level)},
                         {"shortest_frame_us", us(h.shortest_frame)},
                         {"longest_frame_us", us(h.longest_frame)},
                         {"refresh_max_ms", h.refresh_max},
                         {"pin_change_half_us", us(h.pin_change_half)},
                         {"pin_change_crowded_us", us(h.pin_change_crowded)}}}};
  std::printf("%s\n", answer.dump(2).c_str());
}

void print_text(const engine::BenchReport& r, const Reference& reference) {
  const auto& h = r.hello;
  std::printf("%s\n%s, wire version %d, schema %s\n", r.identity.bench_address.c_str(), r.identity.board.c_str(), h.protocol,
              r.identity.schema_hash.c_str());
  std::printf("lines      %d stimulus, %d input capture, %d pin change\n", h.stimulus_lines, h.capture_lines, h.pin_change_lines);
  std::printf("limits     levels from %.1f us, frames %.1f to %.0f ms, queue %d edges a line\n", us(h.shortest_level),
              us(h.shortest_frame) / 1e3, us(h.longest_frame) / 1e3, h.queue_depth);
  std::printf("stamps     input capture 1 tick (0.0625 us); pin change +-%.2f us alone, +-%.2f us when crowded\n", us(h.pin_change_half),
              us(h.pin_change_crowded));
  std::printf("safety     goes safe by itself after %d ms without the host (set at start, at most %d ms)\n", engine::kRefreshMs,
              h.refresh_max);
  std::printf("self-test\n");
  for (const auto& i : r.items) std::printf("  %-4s %-17s %s\n", i.ok ? "ok" : "BAD", i.name.c_str(), i.text.c_str());
  if (reference) print_reference(*reference);
  std::printf("%s\n", r.fit() ? "fit" : "NOT FIT");
}

int examine(const Options& options) {
  const auto line = engine::capture_line(options.reference);
  if (!options.reference.empty() && !line)
    return report_error({ErrorKind::usage, "--reference " + options.reference + " is no capture line; expected R1, R2 or P1 to P6"});
  auto bench = engine::open_bench(options.address, options.conditions);
  if (!bench) return report_error(bench.error());
  engine::Session session(*bench->transport, stop_on_signal());
  const auto report = engine::examine(session);
  if (!report) return report_error(report.error());
  Reference reference;
  if (line) {
    auto held = engine::hold_against_reference(session, *line, options.reference_seconds);
    if (!held) return report_error(held.error());
    reference = held.take();
  }
  options.json ? print_json(report.value(), reference) : print_text(report.value(), reference);
  return report->fit() ? 0 : exit_code(ErrorKind::bench_unfit);
}

}  // namespace

void add_bench(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command =
      program.add_subcommand("bench", "Who is on the bench: identity, limits, clock, self-test. Makes no pulse, powers nothing.");
  command->add_option("ADDRESS", options->address, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  command->add_flag("--json", options->json, "Answer as JSON");
  command->add_option("--reference", options->reference, "Capture line (R1, R2, P1 to P6) with one pulse a second from a time reference");
  command->add_option("--reference-seconds", options->reference_seconds, "How long to watch it")->check(CLI::Range(6.0, 3600.0));
  add_virtual_options(*command, options->conditions);
  command->callback([options, &action] { action = [options] { return examine(*options); }; });
}

}  // namespace midstick::cli
