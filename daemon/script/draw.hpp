// Seeded draws that are the same on every platform: the 64-bit Mersenne Twister (ISO C++ fixes its output) with an integer mapping of
// our own, since the library's distributions differ from one to the next. Plain value, one owner, no failure.
#pragma once

#include <cstdint>
#include <random>

namespace midstick::script {

/// One well-mixed seed from two (the finaliser of splitmix64, from memory).
constexpr std::uint64_t mixed(std::uint64_t a, std::uint64_t b) {
  std::uint64_t z = a + 0x9E3779B97F4A7C15ULL * (b + 1);
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
  return z ^ (z >> 31);
}

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}

  /// Uniform in low..high, both included; low <= high, high - low < 2^62. The bias of the remainder is below (high - low) / 2^64.
  std::int64_t within(std::int64_t low, std::int64_t high) {
    const auto span = static_cast<std::uint64_t>(high - low) + 1;
    return low + static_cast<std::int64_t>(engine_() % span);
  }

 private:
  std::mt19937_64 engine_;
};

}  // namespace midstick::script
