// Ctrl-C and SIGTERM as a flag that the engine looks at between two reads: it then stops pulses and controller power before anything else.
//
// A second Ctrl-C does not kill the program while pulses may still be on; SIGKILL does, and then the board's own time limit without refresh
// stops them.
#pragma once

#include <atomic>

namespace midstick::cli {

/// Install the handlers (once) and return the flag. The flag lives as long as the program.
const std::atomic<bool>& stop_on_signal();

}  // namespace midstick::cli
