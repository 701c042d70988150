// The checks, one file each. The registry (../registry.cpp) lists them in the plan schema's order.
#pragma once

#include "daemon/judge/check.hpp"

namespace midstick::judge {

extern const CheckKind kNeutral;
extern const CheckKind kStaticMix;
extern const CheckKind kDeadBand;
extern const CheckKind kLimits;
extern const CheckKind kLatency;
extern const CheckKind kOutputFrame;
extern const CheckKind kSignalLoss;
extern const CheckKind kRecovery;
extern const CheckKind kPowerUp;
extern const CheckKind kSaturation;
extern const CheckKind kSignMatrix;
extern const CheckKind kMonotonic;
extern const CheckKind kSymmetry;
extern const CheckKind kEdgeChatter;
extern const CheckKind kSlew;
extern const CheckKind kChannels;
extern const CheckKind kEscArming;
extern const CheckKind kBrakeReverse;
extern const CheckKind kOutputSkew;
extern const CheckKind kMidPulse;
extern const CheckKind kOutlierRhythm;
extern const CheckKind kClockRatio;
extern const CheckKind kChannelPhase;
extern const CheckKind kInputRate;
extern const CheckKind kPlausibility;
extern const CheckKind kWildFrames;
extern const CheckKind kRunts;
extern const CheckKind kTornValue;
extern const CheckKind kGaps;
extern const CheckKind kChatteringLink;
extern const CheckKind kReceiver;
extern const CheckKind kRestart;
extern const CheckKind kSaveStall;
extern const CheckKind kFrozenOutput;
extern const CheckKind kWiringFault;
extern const CheckKind kHostPort;
extern const CheckKind kRandomSticks;
extern const CheckKind kSoak;

}  // namespace midstick::judge
