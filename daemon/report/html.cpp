#include "daemon/report/html.hpp"

#include <fmt/format.h>

#include "daemon/report/html_parts.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/text.hpp"
#include "daemon/report/time_spent.hpp"

namespace midstick::report {
namespace {

constexpr int kFullDetail = 380;  // one column a pixel of a plot
constexpr int kLeastDetail = 20;

std::string counts(const judge::RunResult& result) {
  return fmt::format("{} passed, {} failed, {} inconclusive", count(result, judge::Verdict::pass), count(result, judge::Verdict::fail),
                     count(result, judge::Verdict::inconclusive));
}

std::string top(const Source& source) {
  const auto& result = source.result;
  const auto& capture = source.capture;
  std::string out = fmt::format("<header class=\"top {0}\"><p class=\"brand\">Midstick report</p><h1>{1}</h1><p class=\"lead\">{2}</p>\n",
                                judge::name(result.verdict), verdict_badge(result.verdict), escape(with_micro_sign(result.summary)));
  if (!capture.complete)
    out += fmt::format("<p class=\"cut\"><strong>The run was cut short.</strong> {}</p>\n", escape(capture.incomplete_reason));
  out += "<dl class=\"facts\">";
  out += html_fact("Plan", source.plan.name) + html_fact("Controller", capture.identity.controller) + html_fact("Checks", counts(result));
  if (!source.facts.build.empty()) out += html_fact("Build", source.facts.build);
  out += html_fact("Bench", bench_kind(capture) == "virtual" ? "virtual: emulated board and controller" : capture.identity.bench_address);
  out += html_fact("Started", html_time(source.facts.started)) + html_fact("Board time", duration_text(run_ms(capture)));
  out += html_fact("Seed", std::to_string(source.plan.seed));
  return out +
         "</dl>\n<p class=\"warn\">This report is about pulses. Read the <a href=\"#cautions\">cautions</a> before you power a "
         "motor.</p></header>\n";
}

std::string overview(const Source& source) {
  Table table;
  table.caption = "Each check with the number that decided it";
  table.head = {"Check", "Verdict", "Measured", "Limit", "Samples", "In short"};
  table.columns = "twwwnt";
  for (std::size_t i = 0; i < source.result.checks.size(); ++i) {
    const auto& c = source.result.checks[i];
    const auto* head = headline(c);
    table.rows.push_back({fmt::format("<a href=\"#check-{}\">{}</a>", i + 1, escape(c.name)), verdict_badge(c),
                          head ? escape(measured_text(*head)) : "nothing", head ? escape(limit_text(*head)) : "none",
                          head ? std::to_string(head->samples) : "0", escape(with_micro_sign(c.summary))});
  }
  return "<section id=\"checks\"><h2>Checks</h2>\n" + html_table(table) + "<p class=\"note\">" +
         escape(decision_text(source.plan.guard_band)) +
         " Widths and times are true time: the bench board's clock has been corrected.</p></section>\n";
}

std::string time_table(const Source& source) {
  const auto spent = time_spent(source);
  if (spent.checks.empty()) return "";
  Table table;
  table.caption = "Board time of each check and its share of the run";
  table.head = {"Check", "Board time", "Share"};
  table.columns = "tnn";
  const auto row = [&](const std::string& name, double ms, double percent) {
    table.rows.push_back({name, duration_text(ms), fixed(percent, 1) + " %"});
  };
  for (const auto& c : spent.checks) row(escape(c.name), c.ms, c.percent);
  row("between checks", spent.between_ms, spent.between_percent);
  row("whole run", spent.total_ms, spent.total_ms > 0 ? 100 : 0);
  return "<section id=\"time\"><h2>Where the time went</h2>\n" + html_table(table) + "</section>\n";
}

std::string page(const Source& source, int detail) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\">"
      "<meta name=\"color-scheme\" content=\"light dark\"><title>{}: {} - Midstick report</title>\n<style>\n{}</style></head>\n<body>\n",
      verdict_word(source.result.verdict), escape(source.plan.name), kPageCss);
  out += top(source) + "<main>\n" + overview(source);
  for (std::size_t i = 0; i < source.result.checks.size(); ++i) out += html_check(source, i, detail);
  out += time_table(source) + html_bench(source) + html_limits(source);
  out += fmt::format(
      "</main>\n<footer><p>Written by {}. The same run for programs: report.json, junit.xml; every captured edge: "
      "capture.vcd.</p></footer>\n"
      "</body></html>\n",
      escape(source.program));
  return out;
}

}  // namespace

std::string report_html(const Source& source) {
  auto out = page(source, kFullDetail);
  for (int detail = kFullDetail / 2; out.size() > kHtmlLimit && detail >= kLeastDetail; detail /= 2) out = page(source, detail);
  if (out.size() > kHtmlLimit) out = page(source, kOnlyFailing);
  return out;
}

}  // namespace midstick::report
