// Sequence numbers of commands (1..255, then 1 again; 0 stands outside the sequence) and the board's gate for go-back-N.
//
// The board takes only the next command in order. Anything else is answered by an ack of the last one taken and otherwise ignored, save one
// thing: a `stop` that arrives ahead of a missing command is carried out at once (the safe direction) and again in its turn.
// A host keeps at most kWindow commands unacknowledged. Plain value, freestanding C++14, no threads, cannot fail.
#ifndef MIDSTICK_PROTOCOL_COMMAND_SEQUENCE_HPP
#define MIDSTICK_PROTOCOL_COMMAND_SEQUENCE_HPP

#include <stdint.h>

namespace midstick {
namespace protocol {

static const uint8_t kWindow = 8;

inline constexpr uint8_t next_seq(uint8_t seq) { return seq == 255 ? 1 : static_cast<uint8_t>(seq + 1); }

/// Steps from `from` forward to `to`, 0..254. `from` may be 0, the state before the first command; both 0 gives 0.
inline constexpr uint8_t steps_ahead(uint8_t from, uint8_t to) {
  return to >= from ? static_cast<uint8_t>(to - from) : static_cast<uint8_t>(to + 255 - from);
}

enum class Admit : uint8_t {
  take,      ///< next in order: carry it out, then ack
  old,       ///< taken before: ack only
  ahead,     ///< one before it is missing: ack only; a stop is carried out all the same
  unordered  ///< seq 0: not part of the sequence, no ack
};

class CommandGate {
 public:
  /// A hello_request starts the sequence afresh.
  void reset() { accepted_ = 0; }
  Admit admit(uint8_t seq) {
    if (seq == 0) return Admit::unordered;
    const uint8_t ahead = steps_ahead(accepted_, seq);
    if (ahead == 1) {
      accepted_ = seq;
      return Admit::take;
    }
    return ahead > 1 && ahead <= kWindow ? Admit::ahead : Admit::old;
  }
  uint8_t accepted() const { return accepted_; }

 private:
  uint8_t accepted_ = 0;
};

}  // namespace protocol
}  // namespace midstick

#endif
