#include "daemon/report/source.hpp"

#include <algorithm>

namespace midstick::report {

double us_since_start(const capture::Capture& capture, BoardTime at) { return capture.clock.us(at - capture.begin); }

double run_ms(const capture::Capture& capture) { return us_since_start(capture, capture.end) / 1e3; }

double check_ms(const Source& source, const std::string& check_name) {
  const auto& checks = source.plan.checks;
  const auto found = std::find_if(checks.begin(), checks.end(), [&](const auto& c) { return c.name == check_name; });
  if (found == checks.end()) return 0;
  const auto index = found - checks.begin();
  BoardSpan spent{};
  for (const auto& segment : source.capture.segments)
    if (segment.check == index) spent = spent + (segment.end - segment.begin);
  return source.capture.clock.us(spent) / 1e3;
}

const judge::Measure* headline(const judge::CheckResult& check) {
  if (check.headline < 0 || check.headline >= static_cast<int>(check.measures.size())) return nullptr;
  return &check.measures[static_cast<std::size_t>(check.headline)];
}

std::string bench_kind(const capture::Capture& capture) {
  const auto& address = capture.identity.bench_address;
  return address.substr(0, address.find(':'));
}

int count(const judge::RunResult& result, judge::Verdict verdict) {
  return static_cast<int>(std::count_if(result.checks.begin(), result.checks.end(), [&](const auto& c) { return c.verdict == verdict; }));
}

}  // namespace midstick::report
