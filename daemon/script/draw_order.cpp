#include "daemon/script/draw_order.hpp"

#include <numeric>
#include <utility>

#include "daemon/script/draw.hpp"

namespace midstick::script {

std::vector<int> check_order(const Plan& plan) {
  std::vector<int> order(plan.checks.size());
  std::iota(order.begin(), order.end(), 0);
  if (!plan.shuffle) return order;
  Draw draw(mixed(plan.seed, 3));
  for (std::size_t left = order.size(); left > 1; --left)
    std::swap(order[left - 1], order[static_cast<std::size_t>(draw.within(0, static_cast<std::int64_t>(left) - 1))]);
  return order;
}

}  // namespace midstick::script
