// Width of a servo pulse in true time: its own integer type (nanoseconds), so that it is never mixed up with a
// period, a tick count or a stick position. Range 1 ns to 1 s. Conversion from microseconds is checked.
#pragma once

#include <cmath>
#include <compare>
#include <cstdint>
#include <optional>

namespace midstick {

class PulseWidth {
 public:
  static constexpr std::int64_t kMaxNs = 1'000'000'000;

  constexpr PulseWidth() = default;

  /// Width from microseconds; nothing when `us` is not finite, not positive or over 1 s.
  static std::optional<PulseWidth> from_us(double us) {
    if (!std::isfinite(us) || us <= 0.0 || us > kMaxNs / 1e3) return std::nullopt;
    return PulseWidth{static_cast<std::int64_t>(std::llround(us * 1e3))};
  }
  /// Width from nanoseconds; nothing outside 1 ns to 1 s.
  static constexpr std::optional<PulseWidth> from_ns(std::int64_t ns) {
    if (ns < 1 || ns > kMaxNs) return std::nullopt;
    return PulseWidth{ns};
  }

  constexpr std::int64_t ns() const { return ns_; }
  constexpr double us() const { return static_cast<double>(ns_) / 1e3; }
  friend auto operator<=>(PulseWidth, PulseWidth) = default;

 private:
  explicit constexpr PulseWidth(std::int64_t ns) : ns_(ns) {}
  std::int64_t ns_{1'500'000};
};

}  // namespace midstick
