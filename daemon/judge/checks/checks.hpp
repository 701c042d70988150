// The nine checks, one file each. The registry (../registry.cpp) lists them in the plan schema's order.
#pragma once

#include "daemon/judge/check.hpp"

namespace midstick::judge {

extern const CheckKind kNeutral, kStaticMix, kDeadBand, kLimits, kLatency, kOutputFrame, kSignalLoss, kRecovery, kPowerUp;

}  // namespace midstick::judge
