// Frames: COBS( type, seq, payload, CRC-16 low byte first ) 00. The CRC covers type, seq and payload.
//
// FrameEncoder streams into any output that cobs.hpp describes (FixedOutput here; the firmware has its transmit ring). FrameDecoder
// takes one byte at a time and keeps one decoded frame; its views live until the next push(). Bytes from outside are never trusted:
// a frame that is cut, too long, too short or fails its CRC is reported once, at its delimiter. No threads, no heap, C++14.
#ifndef MIDSTICK_PROTOCOL_FRAME_HPP
#define MIDSTICK_PROTOCOL_FRAME_HPP

#include <stddef.h>
#include <stdint.h>

#include "protocol/cobs.hpp"
#include "protocol/crc16.hpp"

namespace midstick {
namespace protocol {

/// Longest payload, bytes. Chosen so that a whole frame stays under one COBS block of 254.
static const uint8_t kMaxPayload = 240;
static const uint8_t kFrameOverhead = 4;  ///< type, seq, CRC
/// Longest frame on the wire, bytes: decoded length, one code byte, delimiter.
static const uint8_t kMaxWireFrame = kMaxPayload + kFrameOverhead + 2;

template <class Output>
class FrameEncoder {
 public:
  explicit FrameEncoder(Output& out) : cobs_(out), crc_(kCrcStart) {}

  void begin(uint8_t type, uint8_t seq) {
    crc_ = kCrcStart;
    cobs_.begin();
    put(type);
    put(seq);
  }
  /// One payload byte. The caller keeps to kMaxPayload.
  void put(uint8_t byte) {
    crc_ = crc16(crc_, byte);
    cobs_.put(byte);
  }
  /// Append CRC and delimiter. False: the output was full; the caller must take the whole frame back out of it.
  bool end() {
    const uint16_t crc = crc_;
    cobs_.put(static_cast<uint8_t>(crc));
    cobs_.put(static_cast<uint8_t>(crc >> 8));
    return cobs_.end();
  }

 private:
  CobsEncoder<Output> cobs_;
  uint16_t crc_;
};

/// An output of fixed size for one or more frames.
template <size_t kSize>
class FixedOutput {
 public:
  typedef size_t Position;
  bool put(uint8_t byte) {
    if (size_ >= kSize) return false;
    bytes_[size_++] = byte;
    return true;
  }
  Position position() const { return size_; }
  void patch(Position at, uint8_t byte) {
    if (at < size_) bytes_[at] = byte;
  }
  const uint8_t* data() const { return bytes_; }
  size_t size() const { return size_; }
  void clear() { size_ = 0; }

 private:
  uint8_t bytes_[kSize];
  size_t size_ = 0;
};

enum class FrameStep : uint8_t {
  nothing,    ///< inside a frame, or line filler
  frame,      ///< a good frame is ready
  malformed,  ///< bad stuffing: bytes were lost
  too_long,   ///< longer than kMaxPayload allows
  too_short,  ///< fewer bytes than type, seq and CRC
  bad_crc     ///< CRC does not match
};

class FrameDecoder {
 public:
  /// Take one byte off the wire. Anything but `nothing` is reported exactly at a delimiter.
  FrameStep push(uint8_t byte) {
    uint8_t decoded = 0;
    switch (cobs_.push(byte, decoded)) {
      case CobsStep::byte:
        store(decoded);
        return FrameStep::nothing;
      case CobsStep::end:
        return finish();
      case CobsStep::malformed:
        restart();
        return FrameStep::malformed;
      default:
        return FrameStep::nothing;
    }
  }
  uint8_t type() const { return bytes_[0]; }
  uint8_t seq() const { return bytes_[1]; }
  const uint8_t* payload() const { return bytes_ + 2; }
  uint8_t payload_size() const { return payload_size_; }

 private:
  void store(uint8_t byte) {
    if (length_ >= sizeof bytes_) {
      overrun_ = true;
      return;
    }
    // The CRC lags two bytes behind, since only at the delimiter is it known which two bytes are the sent CRC.
    if (length_ >= 2) crc_ = crc16(crc_, bytes_[length_ - 2]);
    bytes_[length_++] = byte;
  }
  FrameStep finish() {
    const uint8_t length = length_;
    const uint16_t crc = crc_;
    const bool overrun = overrun_;
    restart();
    if (overrun) return FrameStep::too_long;
    if (length < kFrameOverhead) return FrameStep::too_short;
    const uint16_t sent = static_cast<uint16_t>(bytes_[length - 2] | (static_cast<uint16_t>(bytes_[length - 1]) << 8));
    if (sent != crc) return FrameStep::bad_crc;
    payload_size_ = static_cast<uint8_t>(length - kFrameOverhead);
    return FrameStep::frame;
  }
  void restart() {
    length_ = 0;
    crc_ = kCrcStart;
    overrun_ = false;
  }

  CobsDecoder cobs_;
  uint8_t bytes_[kMaxPayload + kFrameOverhead];
  uint8_t length_ = 0;
  uint8_t payload_size_ = 0;
  uint16_t crc_ = kCrcStart;
  bool overrun_ = false;
};

}  // namespace protocol
}  // namespace midstick

#endif
