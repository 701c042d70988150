// midstick record --bench ADDRESS --controller FILE --mixer FILE --out FILE [--for SECONDS]
#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/engine/record.hpp"

namespace midstick::cli {
namespace {

int record(engine::RecordRequest request) {
  request.on_notice = [](const std::string& line) { std::fprintf(stderr, "%s\n", line.c_str()); };
  const auto finding = engine::record(request, stop_on_signal());
  if (!finding) return report_error(finding.error());
  for (const std::string& line : finding->notes) std::printf("%s\n", line.c_str());
  std::printf("sticks: %s\n", request.out.c_str());
  return 0;
}

}  // namespace

void add_record(CLI::App& program, Action& action) {
  auto request = std::make_shared<engine::RecordRequest>();
  auto* command = program.add_subcommand("record",
                                         "Record a real receiver, wired to the capture lines, into a stick script.\n"
                                         "Powers nothing and makes no pulse; tells a person at the transmitter what to do.");
  command->add_option("--bench", request->bench, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  command->add_option("--controller", request->controller, "Controller description; its inputs name the channels")->required();
  command->add_option("--mixer", request->mixer, "Mixer spec; trims are told from its centres")->required();
  command->add_option("--out", request->out, "Stick script to write")->required();
  command->add_option("--for", request->seconds, "Seconds for all steps together")->check(CLI::Range(20.0, 600.0))->capture_default_str();
  add_virtual_options(*command, request->conditions);
  command->callback([request, &action] { action = [request] { return record(*request); }; });
}

}  // namespace midstick::cli
