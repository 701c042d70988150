// What the spec allows a moving stick's outputs: the hull of the model's answers to everything the sticks said lately.
//
// While a stick moves, latency leaves open which input frame an output pulse stands for. It is outside the hull when it is longer or
// shorter than the answer to any of them. Loss, arming and wild frames are not its matter: it takes every input pulse as said. A spec
// with a slew limit answers with older positions as well; give a `window_ms` that covers them. Pure values.
#pragma once

#include <optional>
#include <vector>

#include "daemon/judge/traffic.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {

class RecentAnswers {
 public:
  /// `window_ms`: how long before a pulse's rise an input may have fallen and still count; the newest before that counts as well.
  RecentAnswers(const script::Plan& plan, const Traffic& traffic, double window_ms);

  /// Hull of the answers that this pulse may carry, us; nothing before both inputs have spoken.
  std::optional<mixer::Interval> around(const Pulse& pulse, Side side) const;

 private:
  struct Answer {
    BoardTime from;
    mixer::Outputs outputs;
  };
  std::vector<Answer> answers_;
  BoardSpan window_;
};

}  // namespace midstick::judge
