#include "daemon/engine/self_test.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <variant>

#include "daemon/engine/player.hpp"
#include "daemon/engine/recorder.hpp"

namespace midstick::engine {
namespace {

constexpr HostSpan kStatusPatience = host_ms(1'000);
/// A ceramic resonator is off by up to 0.5 % new and 0.3 % over temperature (makers' data for ceramic resonators, from memory); more is a
/// fault.
constexpr double kResonatorPpm = 8000;

/// First status after start. Nothing when the board does not send one in time.
std::optional<link::BoardStatus> hear_status(Session& session) {
  session.link().start(kRefreshMs, 0xFF, session.now());
  std::optional<link::BoardStatus> heard;
  const HostTime give_up = session.now() + kStatusPatience;
  while (!heard && session.now() < give_up) {
    const auto listen = [&heard](const link::LinkEvent& e) {
      if (const auto* status = std::get_if<link::BoardStatus>(&e)) heard = *status;
    };
    if (!session.step(session.now() + host_ms(20), listen)) break;
  }
  session.make_safe();
  return heard;
}

std::string reset_text(std::uint8_t cause) {
  std::string text;
  const std::pair<int, const char*> bits[] = {{1, "power-on"}, {2, "reset pin"}, {4, "brown-out"}, {8, "watchdog"}};
  for (const auto& [bit, word] : bits)
    if (cause & bit) text += (text.empty() ? "" : ", ") + std::string(word);
  return text.empty() ? "not told" : text;
}

SelfTestItem clock_item(const clock::ClockMap& map) {
  char text[120];
  std::snprintf(text, sizeof text, "%+.0f ppm from nominal, known to %.0f ppm (95 %%); expected within %.0f ppm", map.ppm(),
                map.uncertainty_ppm, kResonatorPpm);
  return {"clock", std::abs(map.ppm()) <= kResonatorPpm, text};
}

void add_status_items(BenchReport& report, const std::optional<link::BoardStatus>& status) {
  report.items.push_back({"status", status.has_value(), status ? "the board reports its state" : "no status within 1 s of start"});
  if (!status) return;
  report.supply_mv = status->supply_mv;
  report.items.push_back(
      {"stop loop", !status->stop_loop_open, status->stop_loop_open ? "open: nothing can be powered; close it" : "closed"});
  report.items.push_back({"fault", status->fault == protocol::Fault::none, fault_text(status->fault)});
  report.items.push_back(
      {"controller power", !status->power_on, status->power_on ? "on, though nobody asked for it: check the relay" : "off, as it must be"});
  report.items.push_back({"supply", true, std::to_string(status->supply_mv) + " mV at the controller side of the relay (off now)"});
}

}  // namespace

bool BenchReport::fit() const {
  return std::all_of(items.begin(), items.end(), [](const SelfTestItem& i) { return i.ok; });
}

Result<BenchReport> examine(Session& session) {
  if (auto s = session.open(); !s) return s.error();
  BenchReport report;
  report.hello = session.link().hello();
  report.identity = session.identity();
  const auto settled = session.settle_clock(kClockPpm, kClockPatience);
  report.clock = session.clock_map();
  if (settled)
    report.items.push_back(clock_item(report.clock));
  else if (settled.error().kind == ErrorKind::bench_unfit)
    report.items.push_back({"clock", false, settled.error().message});
  else
    return settled.error();
  const bool clean_boot = (report.hello.reset_cause & (4 | 8)) == 0;
  report.items.push_back({"last reset", clean_boot, reset_text(report.hello.reset_cause)});
  add_status_items(report, hear_status(session));
  return report;
}

}  // namespace midstick::engine
