#include "daemon/report/time_spent.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/report/numbers.hpp"

namespace midstick::report {
namespace {
constexpr std::size_t kNamed = 4;
}

TimeSpent time_spent(const Source& source) {
  TimeSpent spent;
  spent.total_ms = run_ms(source.capture);
  const auto percent = [&](double ms) { return spent.total_ms > 0 ? ms / spent.total_ms * 100 : 0; };
  spent.between_ms = spent.total_ms;
  for (const auto& c : source.result.checks) {
    const double ms = check_ms(source, c.name);
    spent.checks.push_back({c.name, ms, percent(ms)});
    spent.between_ms -= ms;
  }
  spent.between_ms = std::max(0.0, spent.between_ms);
  spent.between_percent = percent(spent.between_ms);
  return spent;
}

std::string time_line(const judge::RunResult& result) {
  std::vector<const judge::CheckResult*> order;
  double total = 0;
  for (const auto& c : result.checks)
    if (c.board_ms > 0) order.push_back(&c), total += c.board_ms;
  if (order.empty()) return "";
  std::stable_sort(order.begin(), order.end(), [](const auto* a, const auto* b) { return a->board_ms > b->board_ms; });
  std::string line = fmt::format("Time: {} of board time in checks: ", duration_text(total));
  double named = 0;
  const auto share = [&](double ms) { return fixed(ms / total * 100, 0) + " %"; };
  for (std::size_t i = 0; i < std::min(kNamed, order.size()); ++i) {
    line += (i > 0 ? ", " : "") + order[i]->name + " " + share(order[i]->board_ms);
    named += order[i]->board_ms;
  }
  if (order.size() > kNamed) line += fmt::format(", {} more {}", order.size() - kNamed, share(total - named));
  return line + ".";
}

}  // namespace midstick::report
