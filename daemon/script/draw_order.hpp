// The order in which a plan's checks run. Pure.
#pragma once

#include <vector>

#include "daemon/script/plan.hpp"

namespace midstick::script {

/// Indices into plan.checks: as given, or shuffled by the plan's seed (the same on every platform).
std::vector<int> check_order(const Plan& plan);

}  // namespace midstick::script
