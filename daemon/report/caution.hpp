// The cautions, word for word the same wherever they are shown: report, terminal, wiring page.
//
// Common practice, no source. Plain data.
#pragma once

#include <array>

namespace midstick::report {

inline constexpr std::array<const char*, 7> kCautions{
    "Disconnect the motors, or raise the tracks clear of the ground, before a controller is powered. Motors break bones.",
    "Feed the controller from a fused supply with a current limit, within reach of a switch that cuts it without software.",
    "Wire the stop loop and try it before the first run. It is normally closed: a cut wire stops the bench.",
    "Never join the 5 V feed of a speed controller to the bench's or the computer's 5 V. Join only signal and ground.",
    "A pass says that the pulses were right on this bench. It does not say that the machine is safe.",
    "Whoever powers the machine is responsible for it. Keep people and animals away from it.",
    "Local rules, the maker's instructions and a qualified person's word come before anything written here."};

}  // namespace midstick::report
