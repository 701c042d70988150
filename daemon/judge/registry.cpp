#include "daemon/judge/checks/checks.hpp"

namespace midstick::judge {

const std::vector<CheckKind>& check_kinds() {
  static const std::vector<CheckKind> kinds{
      kNeutral,      kStaticMix,    kDeadBand,    kLimits,    kLatency,       kOutputFrame,    kSignalLoss,   kRecovery,
      kPowerUp,      kSaturation,   kSignMatrix,  kMonotonic, kSymmetry,      kEdgeChatter,    kSlew,         kChannels,
      kEscArming,    kBrakeReverse, kOutputSkew,  kMidPulse,  kOutlierRhythm, kClockRatio,     kChannelPhase, kInputRate,
      kPlausibility, kWildFrames,   kRunts,       kTornValue, kGaps,          kChatteringLink, kReceiver,     kRestart,
      kSaveStall,    kFrozenOutput, kWiringFault, kHostPort,  kRandomSticks,  kSoak,
  };
  return kinds;
}

}  // namespace midstick::judge
