// The 32-bit tick of the wire: the low 32 bits of the board's clock, 1/16 us each, wrapping every 268.4 s.
//
// It has no order: two ticks only have a signed difference, right as long as they lie within 134.2 s of each other. The host widens
// it once (daemon/link/tick_widener.hpp); the firmware compares by the sign of a difference. Plain value, freestanding C++14,
// no threads, cannot fail.
#ifndef MIDSTICK_PROTOCOL_WIRE_TICK_HPP
#define MIDSTICK_PROTOCOL_WIRE_TICK_HPP

#include <stdint.h>

namespace midstick {
namespace protocol {

/// Nominal ticks per second; what a board says in its hello.
static const uint32_t kTickRateHz = 16000000;

struct WireTick {
  uint32_t count;  ///< ticks, 0..2^32-1, wraps
};

/// Signed ticks from `b` to `a`.
inline constexpr int32_t operator-(WireTick a, WireTick b) { return static_cast<int32_t>(a.count - b.count); }
inline constexpr WireTick operator+(WireTick a, int32_t ticks) { return WireTick{a.count + static_cast<uint32_t>(ticks)}; }
inline constexpr bool operator==(WireTick a, WireTick b) { return a.count == b.count; }
inline constexpr bool operator!=(WireTick a, WireTick b) { return a.count != b.count; }

}  // namespace protocol
}  // namespace midstick

#endif
