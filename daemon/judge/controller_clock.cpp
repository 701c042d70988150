#include "daemon/judge/controller_clock.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace midstick::judge {
namespace {

constexpr std::size_t kFramesNeeded = 50;
constexpr double kFarOff = 0.05;

std::vector<double> frame_ratios(const capture::Capture& capture, std::uint8_t line, double nominal_ms) {
  std::vector<double> ratios;
  std::optional<BoardTime> last;
  for (const auto& e : capture.response) {
    if (e.line != line || !e.level) continue;
    const double ratio = last ? capture.clock.us(e.at - *last) / 1e3 / nominal_ms : 0;
    if (std::abs(ratio - 1) < kFarOff) ratios.push_back(ratio);
    last = e.at;
  }
  return ratios;
}

}  // namespace

double measured_controller_clock(const script::Plan& plan, const capture::Capture& capture) {
  const double nominal_ms = plan.spec.frame.nominal_ms;
  if (nominal_ms <= 0) return 0;
  for (const auto& name : {plan.spec.left.name, plan.spec.right.name}) {
    const auto* pin = plan.controller.output(name);
    if (!pin) continue;
    auto ratios = frame_ratios(capture, pin->line_no, nominal_ms);
    if (ratios.size() < kFramesNeeded) continue;
    const auto middle = ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 2);
    std::nth_element(ratios.begin(), middle, ratios.end());
    return *middle;
  }
  return 0;
}

double controller_clock(const script::Plan& plan, const capture::Capture& capture) {
  const double ratio = measured_controller_clock(plan, capture);
  return ratio > 0 && std::abs(ratio - 1) * 100 <= plan.spec.clock_percent * 1.02 ? ratio
                                                                                  : 1;  // 2 % of the allowance for the bench's own map
}

}  // namespace midstick::judge
