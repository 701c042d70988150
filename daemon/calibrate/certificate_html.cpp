#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/calibrate/certificate.hpp"
#include "daemon/report/html_parts.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/text.hpp"

namespace midstick::calibrate {
namespace {

using report::escape;
using report::html_fact;

/// Two significant digits of an uncertainty, and as many decimals for the value beside it (JCGM 100:2008 7.2.6).
int decimals_for(double uncertainty) {
  if (!(uncertainty > 0) || !std::isfinite(uncertainty)) return 1;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(uncertainty))), 0, 3);
}
/// A number and its unit stay on one line.
std::string in_unit(const std::string& number, const std::string& unit) { return number + "\u00a0" + unit; }
std::string number(double value) { return report::plain(value, decimals_for(std::abs(value))); }
std::string with_uncertainty(double value, double uncertainty) {
  const int decimals = decimals_for(uncertainty);
  return report::fixed(value, decimals) + " ± " + report::fixed(uncertainty, decimals) + " ns";
}
std::string dof_text(double dof) { return std::isinf(dof) ? "∞" : report::plain(std::floor(dof), 0); }

std::string conditions(const Certificate& certificate) {
  const auto& c = certificate.study.calibration;
  std::string out = "<section id=\"conditions\"><h2>Board and conditions</h2>\n<dl class=\"facts\">";
  out += html_fact("Board", c.board) + html_fact("Described as", certificate.identity.board) + html_fact("Firmware", c.firmware);
  out += html_fact("Wire schema", c.schema_hash) + html_fact("Address", certificate.identity.bench_address);
  out += html_fact("Supply of the board", c.supply_mv > 0 ? report::plain(c.supply_mv / 1e3, 3) + " V, as read by a person" : "not read");
  out +=
      html_fact("Board clock", fmt::format("{} by {} ppm against the computer's clock, ± {} ppm (95 %)", c.clock_ppm < 0 ? "slow" : "fast",
                                           report::plain(std::abs(c.clock_ppm), 1), report::plain(c.clock_uncertainty_ppm, 2)));
  return out + html_fact("Host", certificate.host) + "</dl></section>\n";
}

std::string results(const Certificate& certificate) {
  report::Table table;
  table.caption = "What was measured; U is 95 %";
  table.head = {"Quantity", "Value ± U", "Readings"};
  table.columns = "twn";
  for (const auto& r : certificate.study.results)
    table.rows.push_back(
        {escape(report::with_micro_sign(r.quantity)), with_uncertainty(r.value, r.uncertainty), std::to_string(r.samples)});
  std::string out = "<section id=\"results\"><h2>Results</h2>\n" + report::html_table(table);
  for (const auto& note : certificate.study.notes) out += fmt::format("<p class=\"note\">{}</p>\n", escape(report::with_micro_sign(note)));
  return out + "</section>\n";
}

std::string budget_section(const BudgetOf& b) {
  report::Table table;
  table.caption = "Uncertainty budget of " + report::with_micro_sign(b.quantity);
  table.head = {"Source",      "Type",         "Distribution",      "Value", "Divisor", "Standard uncertainty",
                "Sensitivity", "Contribution", "Degrees of freedom"};
  table.columns = "ttttttttt";  // nine columns on 1000 px: headings must be free to wrap
  for (const auto& row : b.budget.rows)
    table.rows.push_back(
        {escape(row.source), statistics::name(row.evaluation), statistics::name(row.distribution), in_unit(number(row.value), row.unit),
         report::plain(statistics::divisor(row.distribution), 3), in_unit(number(row.standard()), row.unit),
         row.unit == "ns" ? report::plain(row.sensitivity, 3) : in_unit(report::plain(row.sensitivity, 3), "ns/" + row.unit),
         in_unit(number(row.contribution()), "ns"), dof_text(row.dof)});
  std::string out = fmt::format("<section><h3>{}</h3>\n", escape(report::with_micro_sign(b.quantity))) + report::html_table(table) +
                    "<dl class=\"facts\">";
  out += html_fact("Combined standard uncertainty", number(b.budget.combined) + " ns");
  out += html_fact("Effective degrees of freedom", b.budget.dof ? dof_text(*b.budget.dof) : "not defined");
  out += html_fact("Coverage factor k", report::fixed(b.budget.k, 2));
  out += html_fact("Expanded uncertainty U (95 %)", number(b.budget.expanded) + " ns");
  return out + html_fact("Taken by the judge", number(b.judged_ns) + " ns, from the errors' own distributions") + "</dl></section>\n";
}

std::string limits() {
  return "<section id=\"limits\"><h2>What this certificate does not say</h2>\n<ul>"
         "<li>Nobody but the person at the bench stands behind it; no laboratory was asked.</li>\n"
         "<li>Time rests on the computer's clock. Its own error is not in any number here.</li>\n"
         "<li>It holds for this board, with this firmware, until the day given. A board programmed anew needs a new one.</li>\n"
         "<li>Delays were measured on the bench's own 5 V signals. Slow edges and 3.3 V signals are read later.</li>\n"
         "<li>Pin change stamps with another edge close before them keep the board's own bound: how late they are hangs on that "
         "edge.</li>\n"
         "<li>It says nothing about any controller.</li></ul></section>\n";
}

}  // namespace

std::string certificate_html(const Certificate& certificate) {
  const auto& c = certificate.study.calibration;
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\">"
      "<meta name=\"color-scheme\" content=\"light dark\"><title>Calibration of {} - Midstick "
      "certificate</title>\n<style>\n{}</style></head>\n<body>\n",
      escape(c.board), report::kPageCss);
  out += fmt::format(
      "<header class=\"top\" style=\"border-left-color: var(--soft)\"><p class=\"brand\">Midstick certificate of "
      "calibration</p><h1>{}</h1><p class=\"lead\">The bench board's own "
      "errors, "
      "measured on {}. Not to be used after {}.</p></header>\n<main>\n",
      escape(c.board), escape(report::html_time(c.date)), escape(capture::valid_until(c)));
  out +=
      conditions(certificate) + results(certificate) +
      "<section id=\"budgets\"><h2>Uncertainty budgets</h2>\n<p>In the form of JCGM 100:2008. U = k u<sub>c</sub> takes every sum of "
      "errors for "
      "normal. The judge does not: it takes the half width that holds 95 % of the errors' own distributions (JCGM 101:2008), given beside "
      "it.</p>\n";
  for (const auto& b : certificate.study.budgets) out += budget_section(b);
  out += "</section>\n" + limits();
  return out + fmt::format(
                   "</main>\n<footer><p>Written by {}. The same for programs: certificate.json; for runs: calibration.json.</p></footer>\n"
                   "</body></html>\n",
                   escape(certificate.program));
}

}  // namespace midstick::calibrate
