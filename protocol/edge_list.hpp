// Edge lists: the tail of `stimulus` and `edges`. One head byte an edge, then its distance from the edge before (first: from base).
//
// Head: bit 7 level after the edge; bit 6 delayed (responses: another interrupt held this stamp up); bits 5..4 number of distance bytes
// less one; bit 3 distance is backwards in time (responses only: pin change stamps are corrected after the fact); bits 2..0 line.
// Distance: 1 to 4 bytes, little-endian, ticks. A length in the head is cheaper on an 8-bit chip than a byte-wise varint, and shorter.
// The caller says when a frame is full (kMaxEdgeBytes an edge). Freestanding C++14, no heap, no threads.
#ifndef MIDSTICK_PROTOCOL_EDGE_LIST_HPP
#define MIDSTICK_PROTOCOL_EDGE_LIST_HPP

#include <stdint.h>

#include "protocol/messages.hpp"
#include "protocol/wire_tick.hpp"

namespace midstick {
namespace protocol {

static const uint8_t kMaxEdgeBytes = 5;
static const uint8_t kMaxEdgeListBytes = kMaxPayload - 5;  ///< leaves room for base

struct EdgeRecord {
  WireTick at;
  uint8_t line;  ///< 0..7
  bool level;    ///< after the edge
  bool delayed;  ///< stamp was held up; false on stimulus
};

class EdgeWriter {
 public:
  explicit EdgeWriter(WireTick base) : last_(base) {}

  /// Append one edge to anything with put(uint8_t); returns the bytes put, 2..5.
  template <class Encoder>
  uint8_t put(Encoder& out, const EdgeRecord& edge) {
    uint32_t distance = edge.at.count - last_.count;
    uint8_t head = static_cast<uint8_t>(edge.line & 7);
    if (distance & 0x80000000) {
      distance = 0 - distance;
      head |= 0x08;
    }
    last_ = edge.at;
    if (edge.level) head |= 0x80;
    if (edge.delayed) head |= 0x40;
    const uint8_t extra = distance > 0xFFFFFF ? 3 : distance > 0xFFFF ? 2 : distance > 0xFF ? 1 : 0;
    out.put(static_cast<uint8_t>(head | (extra << 4)));
    out.put(static_cast<uint8_t>(distance));
    if (extra > 0) out.put(static_cast<uint8_t>(distance >> 8));
    if (extra > 1) out.put(static_cast<uint8_t>(distance >> 16));
    if (extra > 2) out.put(static_cast<uint8_t>(distance >> 24));
    return static_cast<uint8_t>(extra + 2);
  }

 private:
  WireTick last_;
};

enum class EdgeStep : uint8_t {
  edge,      ///< one edge read
  end,       ///< list is over
  malformed  ///< list ends inside an edge, or a distance is 2^31 or more
};

class EdgeReader {
 public:
  EdgeReader(WireTick base, Tail list) : last_(base), data_(list.data), left_(list.size), backwards_(false) {}

  EdgeStep next(EdgeRecord& edge) {
    if (left_ == 0) return EdgeStep::end;
    const uint8_t head = data_[0];
    const uint8_t bytes = static_cast<uint8_t>(((head >> 4) & 3) + 1);
    if (left_ <= bytes) return EdgeStep::malformed;
    uint32_t distance = data_[1];
    if (bytes > 1) distance |= static_cast<uint32_t>(data_[2]) << 8;
    if (bytes > 2) distance |= static_cast<uint32_t>(data_[3]) << 16;
    if (bytes > 3) distance |= static_cast<uint32_t>(data_[4]) << 24;
    if (distance & 0x80000000) return EdgeStep::malformed;
    data_ += bytes + 1;
    left_ = static_cast<uint8_t>(left_ - bytes - 1);
    backwards_ = (head & 0x08) != 0;
    last_.count = backwards_ ? last_.count - distance : last_.count + distance;
    edge.at = last_;
    edge.line = static_cast<uint8_t>(head & 7);
    edge.level = (head & 0x80) != 0;
    edge.delayed = (head & 0x40) != 0;
    return EdgeStep::edge;
  }
  /// The edge just read counts backwards: never right in a stimulus.
  bool backwards() const { return backwards_; }

 private:
  WireTick last_;
  const uint8_t* data_;
  uint8_t left_;
  bool backwards_;
};

}  // namespace protocol
}  // namespace midstick

#endif
