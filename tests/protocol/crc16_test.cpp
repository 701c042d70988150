// CRC check values from Greg Cook's "Catalogue of parametrised CRC algorithms".
#include "protocol/crc16.hpp"

#include <gtest/gtest.h>

#include <string>

namespace midstick::protocol {
namespace {

std::uint16_t crc_of(const std::string& bytes) {
  std::uint16_t crc = kCrcStart;
  for (char byte : bytes) crc = crc16(crc, static_cast<std::uint8_t>(byte));
  return crc;
}

TEST(Crc16, CheckValueIsThatOfTheCatalogueForIbm3740) { EXPECT_EQ(crc_of("123456789"), 0x29B1); }

TEST(Crc16, NothingGivesTheStartValue) { EXPECT_EQ(crc_of(""), 0xFFFF); }

TEST(Crc16, CrcHighByteFirstLeavesTheCataloguesResidueZero) { EXPECT_EQ(crc_of(std::string("123456789") + '\x29' + '\xB1'), 0x0000); }

TEST(Crc16, EveryByteValueAgreesWithTheBitwiseDefinition) {
  for (unsigned start : {0xFFFFu, 0x0000u, 0x1234u, 0x8001u})
    for (unsigned byte = 0; byte < 256; ++byte) {
      std::uint32_t bitwise = start ^ (byte << 8);
      for (int bit = 0; bit < 8; ++bit) bitwise = (bitwise & 0x8000) ? (bitwise << 1) ^ 0x1021 : bitwise << 1;
      EXPECT_EQ(crc16(static_cast<std::uint16_t>(start), static_cast<std::uint8_t>(byte)), bitwise & 0xFFFF);
    }
}

static_assert(crc16(0xFFFF, 0) == 0xE1F0, "usable at compile time");

}  // namespace
}  // namespace midstick::protocol
