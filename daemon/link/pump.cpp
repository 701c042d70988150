#include "daemon/link/pump.hpp"

#include <algorithm>
#include <array>

namespace midstick::link {
namespace {

Status flush(Link& link, Transport& transport) {
  const auto bytes = link.take_output();
  return bytes.empty() ? Status{Ok{}} : transport.write(bytes);
}

}  // namespace

Status pump(Link& link, Transport& transport, HostTime until) {
  if (auto sent = flush(link, transport); !sent) return sent;
  std::array<std::uint8_t, 4096> bytes;
  const auto got = transport.read(bytes, std::min(until, link.next_deadline()));
  if (!got) return got.error();
  const HostTime now = transport.now();
  if (*got > 0) link.on_bytes({bytes.data(), got.value()}, now);
  if (now >= link.next_deadline()) link.on_deadline(now);
  return flush(link, transport);
}

}  // namespace midstick::link
