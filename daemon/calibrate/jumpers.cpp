#include "daemon/calibrate/jumpers.hpp"

#include <vector>

#include "fixtures/virtual/random.hpp"

namespace midstick::calibrate {
namespace {

constexpr std::uint8_t kCaptures = 8;
constexpr const char* kCaution =
    "CAUTION: the controller is to be unplugged from the bench altogether, its power off; no ESC and no motor is connected. Only jumpers "
    "go between the bench's own lines.";

}  // namespace

Status HandJumpers::loop(std::uint8_t line) {
  const std::string s = "S" + std::to_string(line + 1);
  std::string text = warned_ ? "" : std::string(kCaution) + "\n";
  warned_ = true;
  text += "Join " + s + " to R1, R2 and P1 to P6 at once, and no other line to anything. Then press Enter.";
  if (!ask_(text)) return Error{ErrorKind::stopped, "stopped by the operator; nothing was written"};
  return Ok{};
}

Result<bool> HandJumpers::pulse_source(HostSpan) {
  if (!has_source_) return false;
  const bool there = ask_(
      "Take the S lines off. Join R1, R2 and P1 to P6 to the signal of a pulse source with a clock of its own: a receiver's channel or a "
      "servo "
      "tester, 14 to 25 ms a frame.\nCAUTION: the source has its own supply, at most 5 V; never join its 5 V to the bench's. Grounds "
      "joined. Then "
      "press Enter.");
  if (!there) return Error{ErrorKind::stopped, "stopped by the operator; nothing was written"};
  return true;
}

Status VirtualJumpers::loop(std::uint8_t line) {
  bench_.open_loops();
  for (std::uint8_t to = 0; to < kCaptures; ++to)
    if (auto s = bench_.loop_back(line, to); !s) return s;
  return Ok{};
}

Result<bool> VirtualJumpers::pulse_source(HostSpan length) {
  if (!has_source_) return false;
  bench_.open_loops();
  virtual_bench::Random random(seed_);
  const auto between = [&](double low, double high) { return low + (high - low) * static_cast<double>(random.next() >> 11) * 0x1p-53; };
  const double begin_ms = static_cast<double>(bench_.now().count) / 1e6, length_ms = static_cast<double>(length.count) / 1e6;
  std::vector<virtual_bench::InjectedEdge> edges;
  const auto all = [&](double ms, bool level) {
    for (std::uint8_t to = 0; to < kCaptures; ++to) edges.push_back({static_cast<std::int64_t>((begin_ms + ms) * 1e9), to, level});
  };
  for (double ms = between(1, 20); ms + 3 < length_ms; ms += between(14, 25)) {
    all(ms, true);
    all(ms + between(0.8, 2.2), false);
  }
  if (auto s = bench_.inject(edges); !s) return s.error();
  return true;
}

}  // namespace midstick::calibrate
