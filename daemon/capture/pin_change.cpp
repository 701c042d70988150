#include "daemon/capture/pin_change.hpp"

#include <algorithm>
#include <cstddef>

namespace midstick::capture {

void bound_pin_changes(const std::vector<Edge>& stimulus, std::vector<Edge>& response, const protocol::Hello& hello) {
  // The stamp itself may be late by the crowded bound, so a neighbour within 10 us of the true edge may seem that much further away.
  const BoardSpan reach = kCrowdedWithin + BoardSpan{hello.pin_change_crowded};
  std::size_t next_stimulus = 0;   // first stimulus edge not before the reach of the current edge
  std::size_t first_response = 0;  // likewise of responses
  std::size_t last_response = 0;   // first response edge after the current one
  for (Edge& edge : response) {
    const BoardTime from = edge.at - reach;
    while (next_stimulus < stimulus.size() && stimulus[next_stimulus].at < from) ++next_stimulus;
    while (response[first_response].at < from) ++first_response;
    while (last_response < response.size() && response[last_response].at <= edge.at) ++last_response;
    if (edge.line < hello.capture_lines) continue;
    const bool after_stimulus = next_stimulus < stimulus.size() && stimulus[next_stimulus].at <= edge.at;
    const bool after_response = last_response - first_response > 1;  // the edge itself is one of them
    edge.crowded = edge.crowded || after_stimulus || after_response;
    edge.half_width = edge.crowded ? hello.pin_change_crowded : hello.pin_change_half;
  }
}

}  // namespace midstick::capture
