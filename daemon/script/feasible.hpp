// Can this script be played? Everything that would make pulses overlap, vanish or leave the frame, found before any is made.
//
// Looks at the extremes of every move (with jitter and dither at their worst), not at every frame. Pure.
#pragma once

#include <optional>
#include <string>

#include "daemon/script/controller.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

inline constexpr double kMaxLengthMs = 6'000'000;  ///< 100 minutes of board time
inline constexpr double kMaxEdges = 20'000'000;    ///< of one script
inline constexpr double kLeastStormUs = 20;        ///< a level that every bench line records, with up to 5 other edges in it
inline constexpr std::size_t kMaxPoints = 20'000;  ///< of one script, all moves together

struct Trouble {
  int move{-1};      ///< index of the move; -1: the frame or the script as a whole
  std::string what;  ///< "found ...; expected ..."
};

/// The first trouble, or nothing when compile() can play the script.
std::optional<Trouble> first_trouble(const StickScript& script, const ControllerDescription& controller);

}  // namespace midstick::script
