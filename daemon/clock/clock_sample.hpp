// One clock exchange between host and board, as bounds: what is certain about it whatever the path's delays were.
//
// `asked` is the earliest host time at which the query can have been wholly at the board, `answered` the latest at which the reply can have
// begun to leave it: our own wire time is already taken off. So, in true time, board_received >= asked and board_sent <= answered.
// Plain value, no threads, cannot fail. Host ns, board ticks.
#pragma once

#include "daemon/core/time.hpp"

namespace midstick::clock {

struct ClockSample {
  HostTime asked;
  BoardTime board_received;
  BoardTime board_sent;
  HostTime answered;
};

}  // namespace midstick::clock
