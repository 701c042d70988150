// CRC-16/IBM-3740: polynomial 1021, start FFFF, not reflected, no final xor; check value 29B1 over "123456789"
// (Greg Cook's catalogue of parametrised CRC algorithms).
//
// Byte-wise without a table, in 8-bit steps, so that it costs about 25 cycles a byte on an 8-bit chip and no memory. Freestanding
// C++14, constexpr, no state of its own, cannot fail.
#ifndef MIDSTICK_PROTOCOL_CRC16_HPP
#define MIDSTICK_PROTOCOL_CRC16_HPP

#include <stdint.h>

namespace midstick {
namespace protocol {

static const uint16_t kCrcStart = 0xFFFF;

/// The register after one more byte.
inline constexpr uint16_t crc16(uint16_t crc, uint8_t byte) {
  uint8_t high = static_cast<uint8_t>(crc >> 8);
  uint8_t low = static_cast<uint8_t>(crc);
  uint8_t x = static_cast<uint8_t>(high ^ byte);
  x = static_cast<uint8_t>(x ^ (x >> 4));
  high = static_cast<uint8_t>(low ^ static_cast<uint8_t>(x << 4) ^ (x >> 3));
  low = static_cast<uint8_t>(x ^ static_cast<uint8_t>(x << 5));
  return static_cast<uint16_t>((static_cast<uint16_t>(high) << 8) | low);
}

}  // namespace protocol
}  // namespace midstick

#endif
