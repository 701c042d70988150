#include "daemon/report/cause_text.hpp"

#include "daemon/judge/causes.hpp"

namespace midstick::report {

std::string cause_text(const judge::Cause& cause) {
  const auto* known = judge::known_cause(cause.id);
  return known ? known->text : cause.id;
}

std::vector<std::string> cause_lines(const judge::CheckResult& check, std::size_t most) {
  if (check.verdict != judge::Verdict::fail) return {};
  if (check.causes.empty()) return {"No known cause fits."};
  std::vector<std::string> lines;
  for (const auto& cause : check.causes) {
    if (lines.size() == most) break;
    lines.push_back((lines.empty() ? "Consistent with: " : "Or with: ") + cause_text(cause) +
                    (cause.reason.empty() ? "." : " (" + cause.reason + ")."));
  }
  return lines;
}

}  // namespace midstick::report
