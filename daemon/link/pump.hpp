// Runs a Link over a Transport: one step sends what is due, waits for bytes or a deadline, and hands them in.
//
// Single-threaded; the caller loops and takes events between steps. Nothing is owned. Returns the transport's Error when the port is gone.
#pragma once

#include "daemon/core/result.hpp"
#include "daemon/link/link.hpp"
#include "daemon/link/transport.hpp"

namespace midstick::link {

/// Send, wait until bytes arrive, the link's next deadline or `until` (host ns), and serve the link.
Status pump(Link& link, Transport& transport, HostTime until);

}  // namespace midstick::link
