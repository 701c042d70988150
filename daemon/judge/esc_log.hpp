// What the ESC on an output makes of the pulses that the bench captured: the spec's ESC model, fed with them, told in board time.
//
// The ESC reads true microseconds, whatever clock the controller runs on. Pure functions.
#pragma once

#include <string>
#include <vector>

#include "daemon/esc/esc.hpp"
#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

/// The spec's, or the preset "direct" at the output's ends, trim included.
esc::Spec esc_of(const script::Plan& plan, Side side);

struct EscStretch {
  esc::State state{esc::State::off};
  BoardTime begin, end;
  std::string reason;
};

/// The ESC gets its power at `on`; its states until `off`, without gaps.
std::vector<EscStretch> esc_states(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime on, BoardTime off);

/// Time at neutral that arms it at the slowest output frame, ms. The count's decay is allowed for.
double esc_arming_ms(const script::Plan& plan, const esc::Spec& spec);

/// States within [begin, end] as a lane of a picture whose x axis is ms since `begin`. Stretches for which `failing` says so are marked.
template <class Failing>
Lane esc_lane(const Traffic& traffic, const std::vector<EscStretch>& states, BoardTime begin, BoardTime end, std::string label,
              Failing failing) {
  Lane lane{std::move(label), {}};
  for (const EscStretch& s : states)
    if (s.end > begin && s.begin < end)
      lane.states.push_back(
          {traffic.ms(std::max(s.begin, begin) - begin), traffic.ms(std::min(s.end, end) - begin), esc::name(s.state), failing(s)});
  return lane;
}

}  // namespace midstick::judge
