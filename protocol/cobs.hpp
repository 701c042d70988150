// Consistent overhead byte stuffing, streaming: Cheshire and Baker, IEEE/ACM Transactions on Networking 7(2), April 1999, pp. 159-172.
//
// The encoder writes straight into an output that lets it come back to one earlier byte, so a frame is never held twice:
//   bool Output::put(uint8_t)               append; false when full
//   Output::Position Output::position()     where the next byte will go
//   void Output::patch(Position, uint8_t)   overwrite a byte put since the frame began
// A packet that ends exactly on a full block of 254 gets NO final 01 (the paper's listing adds one); the decoder accepts both.
// Neither side owns memory or uses threads; freestanding C++14. Failure is a return value.
#ifndef MIDSTICK_PROTOCOL_COBS_HPP
#define MIDSTICK_PROTOCOL_COBS_HPP

#include <stddef.h>
#include <stdint.h>

namespace midstick {
namespace protocol {

template <class Output>
class CobsEncoder {
 public:
  explicit CobsEncoder(Output& out) : out_(out), code_at_(out.position()), code_(0), ok_(true) {}

  void begin() {
    ok_ = true;
    open_block();
  }
  void put(uint8_t byte) {
    if (code_ == 0) open_block();
    if (byte == 0) {
      close_block();
      open_block();
      return;
    }
    ok_ = out_.put(byte) && ok_;
    if (++code_ == 0xFF) {
      close_block();
      code_ = 0;  // the next block opens only when there is something to put in it
    }
  }
  /// Close the packet and append the 00 delimiter. False when the output was full at any point since begin().
  bool end() {
    if (code_ != 0) close_block();
    ok_ = out_.put(0) && ok_;
    return ok_;
  }

 private:
  void open_block() {
    code_at_ = out_.position();
    ok_ = out_.put(1) && ok_;
    code_ = 1;
  }
  void close_block() {
    if (ok_) out_.patch(code_at_, code_);
  }

  Output& out_;
  typename Output::Position code_at_;
  uint8_t code_;  // 1 + bytes in the open block; 0: none open
  bool ok_;
};

enum class CobsStep : uint8_t {
  nothing,   ///< more bytes are needed
  byte,      ///< one decoded byte is ready
  end,       ///< delimiter after a whole packet
  empty,     ///< delimiter with nothing before it: line filler
  malformed  ///< delimiter inside a block: bytes are missing or wrong
};

class CobsDecoder {
 public:
  /// Take one byte off the wire; `decoded` is written only when the step is `byte`.
  CobsStep push(uint8_t byte, uint8_t& decoded) {
    if (byte == 0) return delimiter();
    if (remaining_ != 0) {
      --remaining_;
      decoded = byte;
      return CobsStep::byte;
    }
    const bool implied_zero = last_code_ != 0 && last_code_ != 0xFF;
    last_code_ = byte;
    remaining_ = static_cast<uint8_t>(byte - 1);
    if (!implied_zero) return CobsStep::nothing;
    decoded = 0;
    return CobsStep::byte;
  }

 private:
  CobsStep delimiter() {
    const CobsStep step = last_code_ == 0 ? CobsStep::empty : remaining_ != 0 ? CobsStep::malformed : CobsStep::end;
    remaining_ = 0;
    last_code_ = 0;
    return step;
  }

  uint8_t remaining_ = 0;  // data bytes still due in this block
  uint8_t last_code_ = 0;  // 0: packet not begun
};

}  // namespace protocol
}  // namespace midstick

#endif
