// Receivers as they lose their link, come back and boot, by name: each a list of moves.
//
// The behaviours are common practice among builders, no source; the names are ours. A controller cannot know that pulses which look valid
// are not the sticks: of `hold_last`, `preset` and `throttle_920` it can only do what is sent. Pure.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/script/stick_script.hpp"

namespace midstick::script {

enum class ReceiverState { loss, recovery, boot };

struct ReceiverBehaviour {
  std::string_view name;
  ReceiverState state;
  std::string_view about;
  double least_ms;  ///< its own parts take so long; what is left of the length goes to the last of them
};

/// All behaviours, in the order of the schemas' lists.
const std::vector<ReceiverBehaviour>& receiver_behaviours();
/// Null when there is none of that name.
const ReceiverBehaviour* receiver_behaviour(std::string_view name);

/// What the receiver is wired to and where its sticks are.
struct ReceiverScene {
  std::string throttle;                  ///< the input that carries it
  std::map<std::string, double> sticks;  ///< us, every input
  std::map<std::string, double> preset;  ///< us, every input: what it sends of its own accord, usually neutral
  double throttle_high_us{2000};         ///< full stick
  double frame_ms{20};                   ///< the longest frame; parts are rounded up to it
};

/// The moves of a behaviour over `for_ms` in all. Each has a mark: the name, and for what follows a first part the name and its state
/// ("low_then_silent, silent"). Nothing when `for_ms` is under the behaviour's least and a frame, or the name unknown.
std::optional<std::vector<Move>> receiver_moves(std::string_view name, const ReceiverScene& scene, double for_ms);

}  // namespace midstick::script
