#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/report/caution.hpp"
#include "daemon/report/events.hpp"
#include "daemon/report/html_parts.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

constexpr std::size_t kMostEvents = 60;

std::string signed_ppm(double ppm) { return fmt::format("{}{}", ppm < 0 ? "−" : "+", plain(std::abs(ppm), 2)); }

std::string certain(const clock::ClockFacts& f) {
  const std::string check = f.cross_check_ppm ? fmt::format("; a second method differs by {} ppm", signed_ppm(*f.cross_check_ppm)) : "";
  return fmt::format("{} to {} ppm whatever the delays on the way, if it drifts by 1 ppm/s at most{}; {}, contradicted {} times",
                     signed_ppm(f.hard_low_ppm), signed_ppm(f.hard_high_ppm), check, clock::name(f.state), f.contradictions);
}

std::string host_clock(const clock::HostClock& host) {
  if (host.is_virtual) return "virtual time of the emulated bench: exact by definition";
  const std::string against =
      host.disciplined_ppm ? fmt::format("; the computer's disciplined clock against it {} ppm", signed_ppm(*host.disciplined_ppm)) : "";
  const char* synchronised = host.synchronised == clock::Synchronised::yes  ? "synchronised to another clock"
                             : host.synchronised == clock::Synchronised::no ? "not synchronised to another clock"
                                                                            : "not known whether synchronised";
  return fmt::format("raw{}; {}", against, synchronised);
}

std::string calibration_text(const capture::Capture& capture) {
  if (const auto& c = capture.calibration)
    return fmt::format("of board {}, {}, valid until {}: stamps corrected, their measured spread in the uncertainties", c->board,
                       html_time(c->date), capture::valid_until(*c));
  return "none used: stamps as the board gives them, uncertainties from its own bounds";
}

std::string identity(const Source& source) {
  const auto& c = source.capture;
  const auto& id = c.identity;
  std::string out = "<dl class=\"facts\">";
  out += html_fact("Board", id.board) + html_fact("Firmware", id.firmware) + html_fact("Wire schema", id.schema_hash);
  out += html_fact("Boot", std::to_string(id.boot_id)) + html_fact("Address", id.bench_address);
  out += html_fact("Controller", id.controller) + html_fact("Controller image", id.controller_image);
  out += html_fact("Board clock", fmt::format("{} by {} ppm against the computer's clock, ± {} ppm (95 %), from {} exchanges",
                                              c.clock.ppm() < 0 ? "slow" : "fast", plain(std::abs(c.clock.ppm()), 1),
                                              plain(c.clock.uncertainty_ppm, 2), c.clock.samples));
  if (c.clock_facts)
    out += html_fact("Board clock, certain", certain(*c.clock_facts)) + html_fact("Computer's clock", host_clock(c.clock_facts->host));
  out += html_fact("Calibration", calibration_text(c));
  if (const auto s = supply_range(c))
    out += html_fact("Controller supply", fmt::format("{} to {} V in {} readings", plain(static_cast<double>(s->low_mv) / 1e3, 3),
                                                      plain(static_cast<double>(s->high_mv) / 1e3, 3), s->samples));
  out += html_fact("Edges", fmt::format("{} sent, {} captured", c.stimulus.size(), c.response.size()));
  out += html_fact("Host", source.facts.host) + html_fact("Run folder", source.facts.folder) + html_fact("Plan file", source.plan.path);
  out += html_fact("Finished", html_time(source.facts.finished)) + "</dl>\n";
  if (!c.calibration_note.empty()) out += fmt::format("<p class=\"warn\"><strong>Warning:</strong> {}.</p>\n", escape(c.calibration_note));
  return out;
}

std::string event_list(const capture::Capture& capture) {
  std::vector<const capture::Event*> order;
  for (const auto& e : capture.events)
    if (e.kind != capture::EventKind::supply) order.push_back(&e);
  const auto trouble = std::count_if(order.begin(), order.end(), [](const auto* e) { return is_trouble(e->kind); });
  std::string out = "<h3>Events</h3>\n";
  out += trouble == 0 ? "<p>No losses, faults or restarts: every edge was received.</p>\n"
                      : fmt::format("<p><strong>{} of {} events take trust away from the data.</strong> They come first.</p>\n", trouble,
                                    order.size());
  if (order.empty()) return out;
  std::stable_partition(order.begin(), order.end(), [](const auto* e) { return is_trouble(e->kind); });
  Table table;
  table.caption = "What the bench board reported";
  table.head = {"Event", "At", "Lasted", "Details"};
  table.columns = "tnnt";
  for (std::size_t i = 0; i < std::min(order.size(), kMostEvents); ++i) {
    const auto& e = *order[i];
    const auto lasted = e.at > e.since ? duration_text(capture.clock.us(e.at - e.since) / 1e3) : "";
    table.rows.push_back({fmt::format("{}{}", is_trouble(e.kind) ? "<strong>Trouble:</strong> " : "", event_words(e.kind)),
                          run_time(capture, e.at), lasted, escape(e.text)});
  }
  out += html_table(table);
  if (order.size() > kMostEvents) out += fmt::format("<p class=\"note\">{} more in report.json.</p>\n", order.size() - kMostEvents);
  return out;
}

}  // namespace

std::string html_bench(const Source& source) {
  return "<section id=\"bench\"><h2>The bench</h2>\n" + identity(source) + event_list(source.capture) + "</section>\n";
}

std::string html_limits(const Source& source) {
  std::string out = "<section id=\"limits\"><h2>What this run does not show</h2>\n<ul>";
  const auto item = [&](std::string_view text) { out += fmt::format("<li>{}</li>\n", escape(text)); };
  if (bench_kind(source.capture) == "virtual")
    item(
        "The board and the controller were emulated. Nothing is said about real electronics: supply dips, noise, signal levels, heat, "
        "connectors.");
  item("It speaks for one controller with one program, at one supply voltage and temperature.");
  item("Pulses were judged at the signal pins. No motor, speed controller, radio or load was there.");
  item(
      "A fault rarer than the samples can show may still be there; where nothing was seen, the note beside the value gives the highest "
      "rate that fits.");
  item(fmt::format(
      "Time rests on the computer's clock. The board's clock was compared with it to ± {} ppm; the computer's own error comes on top.",
      plain(source.capture.clock.uncertainty_ppm, 2)));
  item("Only what the plan asked for was tried. What is not in the table above was not tested.");
  if (count(source.result, judge::Verdict::inconclusive) > 0 || source.result.checks.empty())
    item("An inconclusive check says neither that the controller is good nor that it is bad.");
  out += "</ul></section>\n<section id=\"cautions\"><h2>Cautions</h2>\n<ul>";
  for (const char* caution : kCautions) item(caution);
  return out + "</ul></section>\n";
}

}  // namespace midstick::report
