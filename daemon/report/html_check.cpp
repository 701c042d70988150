#include <fmt/format.h>

#include <algorithm>

#include "daemon/report/cause_text.hpp"
#include "daemon/report/html_parts.hpp"
#include "daemon/report/lanes.hpp"
#include "daemon/report/lines.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/plot.hpp"
#include "daemon/report/pulse_strip.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

constexpr std::size_t kMostSpans = 12;
constexpr std::size_t kMostMeasures = 60;
constexpr int kCoarse = 20;  // columns

std::string figure(const std::string& title, const std::string& svg, const std::string& below) {
  return fmt::format("<figure><figcaption>{}</figcaption>{}{}</figure>\n", escape(with_micro_sign(title)), svg, below);
}

std::string plots(const judge::CheckResult& check, const std::string& id, int detail) {
  if (detail == kOnlyFailing && check.verdict == judge::Verdict::pass) return "";
  std::string out;
  for (std::size_t i = 0; i < check.pictures.size(); ++i) {
    const auto& picture = check.pictures[i];
    out += figure(picture.title, plot_svg(picture, fmt::format("{}-plot-{}", id, i + 1), std::max(detail, kCoarse)),
                  plot_legend(picture) + lanes_html(picture));
  }
  return out;
}

/// The first failing span: the judge puts the worst first. Of a check that does not fail, simply the first.
const judge::Span* shown_span(const judge::CheckResult& check) {
  if (check.evidence.empty()) return nullptr;
  const auto failing = std::find_if(check.evidence.begin(), check.evidence.end(), [](const auto& s) { return s.failing; });
  return failing != check.evidence.end() ? &*failing : &check.evidence.front();
}

std::string pulses(const Source& source, const judge::CheckResult& check, const std::string& id) {
  const auto* span = shown_span(check);
  if (span == nullptr) return "";
  const auto strips = strips_of(*span, source.capture, source.plan.controller);
  std::string out;
  for (std::size_t i = 0; i < strips.size(); ++i) {
    const auto note = fmt::format("<p class=\"note\">0 ms is {} into the run.{}</p>", run_time(source.capture, strips[i].zero),
                                  strips[i].close ? " Numbers above pulses are widths in µs." : "");
    out +=
        figure(strips[i].title, strip_svg(strips[i], source.capture, source.plan.controller, fmt::format("{}-strip-{}", id, i + 1)), note);
  }
  return out;
}

std::string measures(const judge::CheckResult& check) {
  if (check.measures.empty()) return "<p class=\"note\">Nothing was measured.</p>\n";
  // What decided and what is not good comes first when there are too many to show.
  std::vector<const judge::Measure*> order;
  for (const auto& m : check.measures) order.push_back(&m);
  if (order.size() > kMostMeasures) {
    const auto* head = headline(check);
    const auto rank = [&](const judge::Measure* m) { return m == head ? 0 : m->verdict == judge::Verdict::pass ? 2 : 1; };
    std::stable_sort(order.begin(), order.end(), [&](const auto* a, const auto* b) { return rank(a) < rank(b); });
  }
  Table table;
  table.caption = "Measured values";
  table.head = {"Value", "Verdict", "Measured", "Limit", "Chance inside", "Samples", "Note"};
  table.columns = "twwwnnt";
  for (std::size_t i = 0; i < std::min(order.size(), kMostMeasures); ++i) {
    const auto& m = *order[i];
    table.rows.push_back({escape(m.name), verdict_badge(m.verdict), escape(measured_text(m)), escape(limit_text(m)), conformance_text(m),
                          std::to_string(m.samples), escape(with_micro_sign(m.note))});
  }
  auto out = html_table(table);
  if (order.size() > kMostMeasures)
    out +=
        fmt::format("<p class=\"note\">{} more values that passed or count less are in report.json.</p>\n", order.size() - kMostMeasures);
  return out;
}

std::string causes(const judge::CheckResult& check) {
  std::string items;
  for (const auto& line : cause_lines(check)) items += "<li>" + escape(with_micro_sign(line)) + "</li>";
  return items.empty() ? "" : "<ol class=\"causes\">" + items + "</ol>\n";
}

std::string lines_text(const Source& source, const judge::Span& span) {
  std::string out;
  for (const auto line : span.stimulus_lines) out += (out.empty() ? "" : ", ") + stimulus_name(source.plan.controller, line);
  for (const auto line : span.response_lines) out += (out.empty() ? "" : ", ") + response_name(source.plan.controller, line);
  return out.empty() ? "all" : out;
}

std::string evidence(const Source& source, const judge::CheckResult& check) {
  if (check.evidence.empty()) return "<p class=\"note\">There is no stretch of the capture to show for it.</p>\n";
  std::vector<const judge::Span*> order;
  for (const auto& s : check.evidence) order.push_back(&s);
  std::stable_partition(order.begin(), order.end(), [](const auto* s) { return s->failing; });
  Table table;
  table.caption = "Stretches of the capture that the verdict rests on";
  table.head = {"Stretch", "Fails", "Begins at", "Lasts", "Lines"};
  table.columns = "twnnt";
  for (std::size_t i = 0; i < std::min(order.size(), kMostSpans); ++i) {
    const auto& s = *order[i];
    table.rows.push_back({escape(s.label.empty() ? "stretch" : with_micro_sign(s.label)),
                          s.failing ? verdict_badge(judge::Verdict::fail) : "no", run_time(source.capture, s.begin),
                          duration_text(source.capture.clock.us(s.end - s.begin) / 1e3), escape(lines_text(source, s))});
  }
  auto out = html_table(table);
  if (order.size() > kMostSpans) out += fmt::format("<p class=\"note\">{} more in report.json.</p>\n", order.size() - kMostSpans);
  return out;
}

}  // namespace

std::string html_check(const Source& source, std::size_t index, int detail) {
  const auto& check = source.result.checks[index];
  const auto id = fmt::format("check-{}", index + 1);
  std::string out = fmt::format("<section class=\"check\" id=\"{0}\" aria-labelledby=\"{0}-h\"><h2 id=\"{0}-h\">{1} {2}</h2>\n", id,
                                escape(check.name), verdict_badge(check));
  out += fmt::format("<p class=\"lead\">{}</p>\n<p class=\"note\">Kind of check: {}. It took {} of board time.</p>\n",
                     escape(with_micro_sign(check.summary)), escape(check.kind), duration_text(check_ms(source, check.name)));
  out += causes(check);
  const auto figures = plots(check, id, detail) + pulses(source, check, id);
  if (!figures.empty()) out += "<div class=\"figures\">\n" + figures + "</div>\n";
  if (detail == kOnlyFailing && check.verdict == judge::Verdict::pass && !check.pictures.empty())
    out += fmt::format("<p class=\"note\">{} plots of this check were left out to keep the page small.</p>\n", check.pictures.size());
  out += measures(check) + evidence(source, check);
  return out + "<p class=\"back\"><a href=\"#checks\">Back to all checks</a></p></section>\n";
}

}  // namespace midstick::report
