// Message structs and their codec, generated from schema.hpp.
//
// decode(payload, size, message): false unless every field is present and in range and no byte is left over. Never trusts the bytes:
// length is checked before and range after each read. encode(encoder, message) streams fields into anything with put(uint8_t);
// false when a value is out of range (a bug of the caller; the frame must be dropped). A tail only points into the caller's
// bytes; to stream one, encode with it empty and put its bytes after. Freestanding C++14, no heap, no threads.
#ifndef MIDSTICK_PROTOCOL_MESSAGES_HPP
#define MIDSTICK_PROTOCOL_MESSAGES_HPP

#include <stddef.h>
#include <stdint.h>

#include "protocol/frame.hpp"
#include "protocol/schema.hpp"
#include "protocol/wire_tick.hpp"

namespace midstick {
namespace protocol {

static const uint8_t kStimulusLines = 6;
static const uint8_t kResponseLines = 8;

struct LineCredits {
  uint8_t of[kStimulusLines];  ///< edges
};
/// Bytes that end a message; not owned.
struct Tail {
  const uint8_t* data;
  uint8_t size;
};

#define MIDSTICK_CPP_u8 uint8_t
#define MIDSTICK_CPP_u16 uint16_t
#define MIDSTICK_CPP_u32 uint32_t
#define MIDSTICK_CPP_tick WireTick
#define MIDSTICK_CPP_credits LineCredits
#define MIDSTICK_CPP_tail Tail

#define MIDSTICK_ENTRY(number, name, meaning) name = number,
enum class Fault : uint8_t { none = 0, MIDSTICK_FAULTS(MIDSTICK_ENTRY) };
enum class Refusal : uint8_t { none = 0, MIDSTICK_REFUSALS(MIDSTICK_ENTRY) };
enum class EventCode : uint8_t { MIDSTICK_EVENTS(MIDSTICK_ENTRY) };
enum class BoardMode : uint8_t { MIDSTICK_STATES(MIDSTICK_ENTRY) };
#undef MIDSTICK_ENTRY

#define MIDSTICK_TYPE(number, Struct, name, FIELDS, direction, frozen, meaning) name = number,
enum class MessageType : uint8_t { MIDSTICK_MESSAGES(MIDSTICK_TYPE) };
#undef MIDSTICK_TYPE

/// Reads a payload front to back; every read says whether it happened.
class PayloadReader {
 public:
  PayloadReader(const uint8_t* data, uint8_t size) : data_(data), left_(size) {}

  bool read(uint8_t& value, uint32_t low, uint32_t high) {
    if (left_ < 1) return false;
    value = next();
    return value >= low && value <= high;
  }
  bool read(uint16_t& value, uint32_t low, uint32_t high) {
    if (left_ < 2) return false;
    value = next();
    value = static_cast<uint16_t>(value | (static_cast<uint16_t>(next()) << 8));
    return value >= low && value <= high;
  }
  bool read(uint32_t& value, uint32_t low, uint32_t high) {
    if (left_ < 4) return false;
    value = next();
    value |= static_cast<uint32_t>(next()) << 8;
    value |= static_cast<uint32_t>(next()) << 16;
    value |= static_cast<uint32_t>(next()) << 24;
    return value >= low && value <= high;
  }
  bool read(WireTick& value, uint32_t low, uint32_t high) { return read(value.count, low, high); }
  bool read(LineCredits& value, uint32_t low, uint32_t high) {
    for (uint8_t i = 0; i < kStimulusLines; ++i)
      if (!read(value.of[i], low, high)) return false;
    return true;
  }
  bool read(Tail& value, uint32_t low, uint32_t high) {
    value.data = data_;
    value.size = left_;
    data_ += left_;
    left_ = 0;
    return value.size >= low && value.size <= high;
  }
  bool at_end() const { return left_ == 0; }

 private:
  uint8_t next() {
    --left_;
    return *data_++;
  }

  const uint8_t* data_;
  uint8_t left_;
};

/// Writes fields into anything with put(uint8_t); remembers whether all were in range.
template <class Encoder>
class PayloadWriter {
 public:
  explicit PayloadWriter(Encoder& out) : out_(out), ok_(true) {}

  void write(uint8_t value, uint32_t low, uint32_t high) {
    ok_ = ok_ && value >= low && value <= high;
    out_.put(value);
  }
  void write(uint16_t value, uint32_t low, uint32_t high) {
    ok_ = ok_ && value >= low && value <= high;
    out_.put(static_cast<uint8_t>(value));
    out_.put(static_cast<uint8_t>(value >> 8));
  }
  void write(uint32_t value, uint32_t low, uint32_t high) {
    ok_ = ok_ && value >= low && value <= high;
    out_.put(static_cast<uint8_t>(value));
    out_.put(static_cast<uint8_t>(value >> 8));
    out_.put(static_cast<uint8_t>(value >> 16));
    out_.put(static_cast<uint8_t>(value >> 24));
  }
  void write(WireTick value, uint32_t low, uint32_t high) { write(value.count, low, high); }
  void write(const LineCredits& value, uint32_t low, uint32_t high) {
    for (uint8_t i = 0; i < kStimulusLines; ++i) write(value.of[i], low, high);
  }
  void write(const Tail& value, uint32_t low, uint32_t high) {
    ok_ = ok_ && value.size >= low && value.size <= high;
    for (uint8_t i = 0; i < value.size; ++i) out_.put(value.data[i]);
  }
  bool ok() const { return ok_; }

 private:
  Encoder& out_;
  bool ok_;
};

#define MIDSTICK_MEMBER(type, name, unit, low, high, meaning) MIDSTICK_CPP_##type name;
#define MIDSTICK_READ(type, name, unit, low, high, meaning) \
  if (!in.read(message.name, low, high)) return false;
#define MIDSTICK_WRITE(type, name, unit, low, high, meaning) writer.write(message.name, low, high);
#define MIDSTICK_VISIT(type, name, unit, low, high, meaning) visitor(#name, message.name, unit);
#define MIDSTICK_STRUCT(number, Struct, name, FIELDS, direction, frozen, meaning) \
  struct Struct {                                                                 \
    enum : uint8_t { kType = number };                                            \
    FIELDS(MIDSTICK_MEMBER)                                                       \
  };                                                                              \
  inline bool decode(const uint8_t* payload, uint8_t size, Struct& message) {     \
    PayloadReader in(payload, size);                                              \
    (void)message;                                                                \
    FIELDS(MIDSTICK_READ)                                                         \
    return in.at_end();                                                           \
  }                                                                               \
  template <class Encoder>                                                        \
  bool encode(Encoder& out, const Struct& message) {                              \
    PayloadWriter<Encoder> writer(out);                                           \
    (void)message;                                                                \
    FIELDS(MIDSTICK_WRITE)                                                        \
    return writer.ok();                                                           \
  }                                                                               \
  /* Calls visitor(name, value, unit) for every field. */                         \
  template <class Visitor>                                                        \
  void for_each_field(const Struct& message, Visitor&& visitor) {                 \
    (void)message;                                                                \
    (void)visitor;                                                                \
    FIELDS(MIDSTICK_VISIT)                                                        \
  }
MIDSTICK_MESSAGES(MIDSTICK_STRUCT)
#undef MIDSTICK_STRUCT
#undef MIDSTICK_VISIT
#undef MIDSTICK_WRITE
#undef MIDSTICK_READ
#undef MIDSTICK_MEMBER

/// One whole frame into `out`. False: value out of range, or no room; the caller takes the frame back out of the output.
template <class Output, class Message>
bool write_frame(Output& out, uint8_t seq, const Message& message) {
  FrameEncoder<Output> frame(out);
  frame.begin(Message::kType, seq);
  const bool in_range = encode(frame, message);
  return frame.end() && in_range;
}

}  // namespace protocol
}  // namespace midstick

#endif
