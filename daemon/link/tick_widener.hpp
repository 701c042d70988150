// The one place where a 32-bit wire tick becomes BoardTime.
//
// Widening is relative to where the board's clock must be by now: the newest certain tick plus the host time since, at the nominal rate.
// That is right while tick and expectation lie within 134 s, so also across long silences. The first tick seen is taken as it stands. No
// threads; cannot fail. `anchor` is for stamps that mean "now" on the board, never for a stamp of the past.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/time.hpp"
#include "protocol/wire_tick.hpp"

namespace midstick::link {

class TickWidener {
 public:
  void reset() { newest_.reset(); }

  /// Board time of a tick that came with bytes read at `now`.
  BoardTime widen(protocol::WireTick tick, HostTime now) const {
    if (!newest_) return {static_cast<std::int64_t>(tick.count)};
    const BoardTime expected = *expected_now(now);
    const protocol::WireTick low{static_cast<std::uint32_t>(expected.count)};
    return {expected.count + (tick - low)};
  }
  /// As widen(), and remember it as the newest tick known.
  BoardTime anchor(protocol::WireTick tick, HostTime now) {
    const BoardTime wide = widen(tick, now);
    newest_ = wide;
    seen_ = now;
    return wide;
  }
  /// Where the board's clock is by now, at the nominal rate; nothing before the first tick.
  std::optional<BoardTime> expected_now(HostTime now) const {
    if (!newest_) return std::nullopt;
    return BoardTime{newest_->count + (now - seen_).count * kTicksPerUs / 1000};
  }
  std::optional<BoardTime> newest() const { return newest_; }

  static protocol::WireTick narrow(BoardTime t) { return {static_cast<std::uint32_t>(t.count)}; }

 private:
  std::optional<BoardTime> newest_;
  HostTime seen_{};
};

}  // namespace midstick::link
