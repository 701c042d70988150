#include "daemon/judge/checks/checks.hpp"

namespace midstick::judge {

const std::vector<CheckKind>& check_kinds() {
  static const std::vector<CheckKind> kinds{kNeutral,     kStaticMix,  kDeadBand, kLimits, kLatency,
                                            kOutputFrame, kSignalLoss, kRecovery, kPowerUp};
  return kinds;
}

}  // namespace midstick::judge
