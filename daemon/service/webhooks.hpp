// Tells others that a run has finished: one POST of the run as the API gives it, tried again with growing pauses.
//
// Plain HTTP (a TLS proxy or a local relay does the rest). Held in memory only: what was not delivered when the daemon ends is not
// delivered. Never holds up a run. Lives on the io thread.
#pragma once

#include <boost/asio/io_context.hpp>
#include <chrono>
#include <string>
#include <vector>

#include "daemon/service/config.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {

struct Url {
  std::string host, port, target;
};
/// "http://host[:port][/path]"; nothing for anything else.
std::optional<Url> parse_url(const std::string& text);

/// Pause before try `n` (2 is the first repeat): 5 s, 10 s, 20 s, ... at most 10 minutes.
std::chrono::seconds pause_before(int n);

void tell(boost::asio::io_context& io, const WebhookConfig& hook, const store::RunRow& run);

}  // namespace midstick::service
