// Where the daemon's log goes: the console (or the journal, when systemd started it) and a rotating file in the kept folder.
//
// Lines that belong to a run begin with "run ID:", so one run's lines are found with one search. A log file that cannot be written never
// stops the daemon: console and journal go on. Call once, before other threads.
#pragma once

#include "daemon/service/config.hpp"

namespace midstick::service {

void set_up_log(const Config& config);

}  // namespace midstick::service
