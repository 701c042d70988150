// Time and width types of the bench.
//
// Three clocks, three types, no implicit bridge between them (see TIME.md):
//   HostTime   steady clock of the host (or virtual time), int64 nanoseconds
//   BoardTime  bench board's own clock since its boot, int64 ticks of nominally 62.5 ns (1/16 MHz), already widened from the
//              32-bit tick of the wire (protocol/wire_tick.hpp)
//   ScriptTime time inside a compiled stick script, int64 nanoseconds of true time from its start
// Only clock::ClockMap joins board ticks and true time. All types are plain values: no threads, no ownership, no failure.
#pragma once

#include <compare>
#include <cstdint>

namespace midstick {

/// Nominal board ticks per microsecond (16 MHz).
inline constexpr std::int64_t kTicksPerUs = 16;

/// A point on one clock. `Tag` keeps the clocks apart; `count` is in the clock's own unit.
template <class Tag>
struct TimePoint {
  std::int64_t count{0};
  friend auto operator<=>(TimePoint, TimePoint) = default;
};

/// A signed distance on one clock.
template <class Tag>
struct TimeSpan {
  std::int64_t count{0};
  friend auto operator<=>(TimeSpan, TimeSpan) = default;
  friend TimeSpan operator+(TimeSpan a, TimeSpan b) { return {a.count + b.count}; }
  friend TimeSpan operator-(TimeSpan a, TimeSpan b) { return {a.count - b.count}; }
  friend TimeSpan operator-(TimeSpan a) { return {-a.count}; }
  friend TimeSpan operator*(TimeSpan a, std::int64_t k) { return {a.count * k}; }
};

template <class Tag>
TimePoint<Tag> operator+(TimePoint<Tag> t, TimeSpan<Tag> d) {
  return {t.count + d.count};
}
template <class Tag>
TimePoint<Tag> operator-(TimePoint<Tag> t, TimeSpan<Tag> d) {
  return {t.count - d.count};
}
template <class Tag>
TimeSpan<Tag> operator-(TimePoint<Tag> a, TimePoint<Tag> b) {
  return {a.count - b.count};
}

struct HostClock {};
struct BoardClock {};
struct ScriptClock {};

using HostTime = TimePoint<HostClock>;      ///< ns
using HostSpan = TimeSpan<HostClock>;       ///< ns
using BoardTime = TimePoint<BoardClock>;    ///< ticks, nominally 62.5 ns
using BoardSpan = TimeSpan<BoardClock>;     ///< ticks, nominally 62.5 ns
using ScriptTime = TimePoint<ScriptClock>;  ///< ns of true time
using ScriptSpan = TimeSpan<ScriptClock>;   ///< ns of true time

constexpr HostSpan host_ms(std::int64_t ms) { return {ms * 1'000'000}; }
constexpr ScriptSpan script_us(std::int64_t us) { return {us * 1'000}; }
constexpr ScriptSpan script_ms(std::int64_t ms) { return {ms * 1'000'000}; }

}  // namespace midstick
