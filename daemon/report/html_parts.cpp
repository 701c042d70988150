#include "daemon/report/html_parts.hpp"

#include <fmt/format.h>

#include "daemon/report/text.hpp"

namespace midstick::report {

const char* verdict_word(judge::Verdict verdict) {
  return verdict == judge::Verdict::pass ? "Pass" : verdict == judge::Verdict::fail ? "Fail" : "Inconclusive";
}

std::string verdict_badge(judge::Verdict verdict) {
  const char* shape = nullptr;
  switch (verdict) {
    case judge::Verdict::pass:
      shape = "<circle cx=\"10\" cy=\"10\" r=\"8.5\"/><path d=\"M6 10.5l3 3 5.5-6.5\"/>";
      break;
    case judge::Verdict::fail:
      shape = "<path d=\"M6.5 1.5h7l5 5v7l-5 5h-7l-5-5v-7z\"/><path d=\"M6.5 6.5l7 7m0-7l-7 7\"/>";
      break;
    case judge::Verdict::inconclusive:
      shape = "<path d=\"M10 .8l9.2 9.2-9.2 9.2L.8 10z\"/><path d=\"M7.6 8c0-3.3 4.8-3 4.8-.3 0 1.8-2.4 1.8-2.4 3.8m0 2.2v.6\"/>";
      break;
  }
  return fmt::format("<span class=\"badge {}\"><svg viewBox=\"0 0 20 20\" aria-hidden=\"true\">{}</svg>{}</span>", judge::name(verdict),
                     shape, verdict_word(verdict));
}

std::string verdict_badge(const judge::CheckResult& check) {
  return check.not_run.empty() ? verdict_badge(check.verdict) : "<span class=\"note\">Not run</span>";
}

std::string html_table(const Table& table) {
  const auto css = [&](std::size_t column) {
    const char kind = column < table.columns.size() ? table.columns[column] : 't';
    return kind == 'n' ? " class=\"num\"" : kind == 'w' ? " class=\"whole\"" : "";
  };
  std::string out =
      fmt::format("<table role=\"table\"><caption>{}</caption><thead role=\"rowgroup\"><tr role=\"row\">", escape(table.caption));
  for (std::size_t i = 0; i < table.head.size(); ++i)
    out += fmt::format("<th role=\"columnheader\" scope=\"col\"{}>{}</th>", css(i), escape(table.head[i]));
  out += "</tr></thead><tbody role=\"rowgroup\">\n";
  for (const auto& row : table.rows) {
    out += "<tr role=\"row\">";
    for (std::size_t i = 0; i < row.size() && i < table.head.size(); ++i) {
      // The label repeats the heading where the table is shown as blocks.
      if (i == 0) {
        out += fmt::format("<th role=\"rowheader\" scope=\"row\"{}>{}</th>", css(i), row[i]);
      } else {
        out += fmt::format("<td role=\"cell\" data-label=\"{}\"{}>{}</td>", escape(table.head[i]), css(i), row[i]);
      }
    }
    out += "</tr>\n";
  }
  return out + "</tbody></table>\n";
}

std::string html_time(const std::string& iso) {
  if (iso.size() != 20 || iso[10] != 'T' || iso[19] != 'Z') return iso;
  return iso.substr(0, 10) + " " + iso.substr(11, 8) + " UTC";
}

std::string run_time(const capture::Capture& capture, BoardTime at) { return fmt::format("{:.3f} s", us_since_start(capture, at) / 1e6); }

std::string html_fact(std::string_view term, std::string_view value) {
  return fmt::format("<div><dt>{}</dt><dd>{}</dd></div>", escape(term), value.empty() ? "unknown" : escape(value));
}

}  // namespace midstick::report
