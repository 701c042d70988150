// The controller's clock, told from its own output frames.
//
// A resonator that is 0.5 % off shifts a 1500 us neutral by 7.5 us, more than any neutral fault worth finding. Where the mixer spec states
// what frame the program makes (frame.nominal_ms) and allows its clock an error (clock_percent), the judge measures the clock by the frames
// and reads all widths in the controller's own microseconds; how far the clock is off is the check clock-ratio's matter. A frame
// that is off by more than the spec allows is no clock error for the judge: everything is then read in true time. Pure; cannot fail.
#pragma once

#include "daemon/judge/check.hpp"

namespace midstick::judge {

/// Length of the output frame against the nominal one: true seconds in a second of the controller. 1.003 is a clock 0.3 % slow. Median of
/// all frames within 5 % of the nominal, of the first output that has 50; 0 when there are fewer, or the spec gives no nominal frame.
double measured_controller_clock(const script::Plan& plan, const capture::Capture& capture);

/// The same as far as the spec allows for it, else 1.
double controller_clock(const script::Plan& plan, const capture::Capture& capture);

}  // namespace midstick::judge
