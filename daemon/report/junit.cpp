#include "daemon/report/junit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "daemon/report/cause_text.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

struct Case {
  std::string name, kind, message, body;
  judge::Verdict verdict{};
  double seconds{0};
};

/// Both schemas want a non-empty token in most attributes.
std::string token(const std::string& text, const char* otherwise) {
  const auto escaped = escape(visible(text, false));
  return escaped.find_first_not_of(' ') == std::string::npos ? otherwise : escaped;
}

/// "2026-03-01T21:00:00": the first schema wants no zone. The start of 1970 stands for an unknown time.
std::string timestamp(const std::string& iso) {
  constexpr std::string_view kForm = "dddd-dd-ddTdd:dd:dd";
  bool good = iso.size() >= kForm.size();
  for (std::size_t i = 0; good && i < kForm.size(); ++i) good = kForm[i] == 'd' ? iso[i] >= '0' && iso[i] <= '9' : iso[i] == kForm[i];
  return good ? iso.substr(0, kForm.size()) : "1970-01-01T00:00:00";
}

/// The summary, and of a failing check the likeliest cause: most build servers show no more than this.
std::string message_of(const judge::CheckResult& check) {
  std::string message = check.summary;
  for (const auto& line : cause_lines(check, 1)) message += " " + line;
  return message;
}

std::string body_of(const judge::CheckResult& check) {
  std::string body = with_micro_sign(check.summary) + "\n";
  for (const auto& line : cause_lines(check)) body += with_micro_sign(line) + "\n";
  for (const auto& m : check.measures) {
    body += fmt::format("{}: {}: measured {}, limit {}, {} samples{}{}\n", m.name, judge::name(m.verdict), measured_text(m), limit_text(m),
                        m.samples, m.note.empty() ? "" : "; ", with_micro_sign(m.note));
  }
  return body;
}

std::vector<Case> cases_of(const Source& source) {
  std::vector<Case> cases;
  for (const auto& c : source.result.checks)
    if (c.not_run.empty()) cases.push_back({c.name, c.kind, message_of(c), body_of(c), c.verdict, check_ms(source, c.name) / 1e3});
  const bool shown = std::any_of(cases.begin(), cases.end(), [](const Case& c) { return c.verdict != judge::Verdict::pass; });
  // A build server counts cases, so a run that says "no" must have one that does.
  if (source.result.verdict != judge::Verdict::pass && !shown) {
    const auto& reason = source.capture.incomplete_reason;
    cases.push_back({"run", "run", source.result.summary, source.result.summary + "\n" + reason + "\n", source.result.verdict, 0});
  }
  return cases;
}

std::string test_case(const Case& c) {
  std::string out = fmt::format("    <testcase name=\"{}\" classname=\"midstick.{}\" time=\"{:.3f}\"", token(c.name, "unnamed"),
                                token(c.kind, "check"), c.seconds);
  if (c.verdict == judge::Verdict::pass) return out + "/>\n";
  const bool failed = c.verdict == judge::Verdict::fail;
  const char* tag = failed ? "failure" : "error";
  return out + fmt::format(">\n      <{} type=\"{}\" message=\"{}\">{}</{}>\n    </testcase>\n", tag, failed ? "fail" : "inconclusive",
                           escape(with_micro_sign(c.message)), escape(c.body), tag);
}

std::string properties(const Source& source) {
  const auto& id = source.capture.identity;
  const auto property = [](const std::string& name, const std::string& value) {
    return fmt::format("      <property name=\"{}\" value=\"{}\"/>\n", name, escape(value));
  };
  std::string not_run;
  for (const auto& c : source.result.checks)
    if (!c.not_run.empty()) not_run += property(token("not run: " + c.name, "not run"), c.not_run);
  return "    <properties>\n" + property("plan", source.plan.name) + property("seed", std::to_string(source.plan.seed)) +
         property("verdict", judge::name(source.result.verdict)) + property("controller", id.controller) +
         property("controller image", id.controller_image) + property("board", id.board) + property("firmware", id.firmware) +
         property("bench", id.bench_address) + not_run + "    </properties>\n";
}

}  // namespace

std::string junit_xml(const Source& source) {
  const auto cases = cases_of(source);
  const auto failures = std::count_if(cases.begin(), cases.end(), [](const Case& c) { return c.verdict == judge::Verdict::fail; });
  const auto errors = std::count_if(cases.begin(), cases.end(), [](const Case& c) { return c.verdict == judge::Verdict::inconclusive; });
  std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n";
  out += fmt::format(
      "  <testsuite name=\"{}\" package=\"midstick\" id=\"0\" timestamp=\"{}\" hostname=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\"",
      token(source.plan.name, "plan"), timestamp(source.facts.started), token(source.facts.host, "localhost"), cases.size(), failures,
      errors);
  out += fmt::format(" time=\"{:.3f}\">\n", run_ms(source.capture) / 1e3);
  out += properties(source);
  for (const auto& c : cases) out += test_case(c);
  out += fmt::format("    <system-out>{}</system-out>\n    <system-err>{}</system-err>\n", escape(source.result.summary),
                     escape(source.capture.incomplete_reason));
  return out + "  </testsuite>\n</testsuites>\n";
}

}  // namespace midstick::report
