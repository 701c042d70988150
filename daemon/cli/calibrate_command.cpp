// midstick calibrate --bench ADDRESS [--out DIR] [--board NAME] [--supply-mv N]
#include <CLI/CLI.hpp>
#include <cstdio>
#include <iostream>
#include <memory>
#include <string>

#include "daemon/calibrate/calibrate.hpp"
#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"

namespace midstick::cli {
namespace {

/// Enter goes on; end of input or Ctrl-C stops.
bool ask(const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
  std::string line;
  return static_cast<bool>(std::getline(std::cin, line)) && !stop_on_signal().load();
}

int calibrate(calibrate::CalibrateRequest request) {
  request.ask = ask;
  const auto outcome = calibrate::calibrate(request, stop_on_signal());
  if (!outcome) return report_error(outcome.error());
  const auto& study = outcome->certificate.study;
  for (const auto& r : study.results)
    std::printf("%-40s %+8.1f ns  U %6.1f ns  %lld\n", r.quantity.c_str(), r.value, r.uncertainty, static_cast<long long>(r.samples));
  for (const auto& b : study.budgets)
    std::printf("%-40s U %6.1f ns by budget, %.1f ns as judged\n", b.quantity.c_str(), b.budget.expanded, b.judged_ns);
  for (const auto& note : study.notes) std::printf("%s\n", note.c_str());
  std::printf("certificate: %s\ncalibration: %s\n", (outcome->folder / "certificate.html").c_str(),
              (outcome->folder / "calibration.json").c_str());
  return 0;
}

}  // namespace

void add_calibrate(CLI::App& program, Action& action) {
  auto request = std::make_shared<calibrate::CalibrateRequest>();
  auto* command =
      program.add_subcommand("calibrate",
                             "Measure the bench board's own errors: jumpers from each S line to all captures, then a pulse source.\n"
                             "CAUTION: drives the S lines. Unplug the controller from the bench first; power nothing else.");
  command->add_option("--bench", request->bench, "serial:/dev/ttyACM0 or virtual:loopback")->required();
  command->add_option("--out", request->out,
                      "Folder for calibration and certificate; default: midstick-calibrations/BOARD, where run looks");
  command->add_option("--board", request->board, "Name of the board, where its USB port has no serial number");
  command->add_option("--supply-mv", request->supply_mv, "The board's supply as you read it, mV")->check(CLI::Range(3000, 6000));
  command->add_option("--valid-days", request->valid_days, "Not to be used later")->check(CLI::Range(1, 3650))->capture_default_str();
  command->add_flag_callback(
      "--no-source", [request] { request->has_source = false; }, "No source of servo pulses at hand: P lines keep the board's bounds");
  add_virtual_options(*command, request->conditions);
  command->callback([request, &action] { action = [request] { return calibrate(*request); }; });
}

}  // namespace midstick::cli
