// How one ESC behaves: every number that differs between the speed controllers that a drive controller may be wired to.
//
// One set of numbers for one state machine (esc.hpp); presets.hpp names usual sets. Widths are us of true time as the ESC should read
// them; its own clock error scales them. All figures are common practice, no source. Plain values; the loader has checked ranges.
#pragma once

#include <string>

namespace midstick::esc {

/// What a pulse below neutral does.
enum class Reverse {
  direct,            ///< reverse at once; above `reverse_below_speed` it waits with the motor off until the vehicle is that slow
  brake_only,        ///< brakes, never reverses
  after_neutral,     ///< brakes; reverses once neutral has been sent since the last forward pulse
  after_standstill,  ///< the same, and neutral counts only when the vehicle stands
  timed              ///< either way round, the motor stays off for `dead_ms` first
};

/// What it does when it gets no neutral after power-on.
enum class PowerOn {
  wait,     ///< beeps and waits
  lock_out  ///< after `patience_ms` it stays off until the next power-on
};

struct Spec {
  std::string name{"direct"};  ///< of the preset it came from

  double valid_low_us{800}, valid_high_us{2200};  ///< pulses beyond are no signal: they restart arming and keep nothing alive
  bool over_range_cuts{false};                    ///< true: one pulse over valid_high_us cuts the motor until neutral comes again
  double low_us{1000}, neutral_us{1500}, high_us{2000};
  double neutral_half_us{50};  ///< what counts as neutral, us either side
  double clock_ppm{0};         ///< its clock's error; positive: fast, so it reads pulses as longer than they are
  double slew_share{0};        ///< it follows its input by at most this share of low..high a pulse, 0..1; 0: at once

  double arm_ms{300};      ///< neutral for this long arms it ...
  int arm_count{10};       ///< ... once it has counted so many neutral pulses; any other pulse restarts both
  double arm_decay_ms{0};  ///< the count loses one each time this passes; 0: it keeps it. Slow frames then never arm it
  PowerOn power_on{PowerOn::wait};
  double patience_ms{2500};  ///< power-on -> armed: later it has locked out, or the operator hears it complain

  double learn_off_us{180};  ///< pulses at least this far above neutral, before any neutral one, enter its learn mode; 0: it has none
  double learn_ms{0};        ///< for this long ...
  int learn_count{50};       ///< ... and so many of them

  Reverse reverse{Reverse::direct};
  double reverse_below_speed{1};  ///< direct only: share of full speed, 0..1; 1: at any speed
  double neutral_visit_ms{0};     ///< after_neutral, after_standstill: neutral must last this long; 0: one pulse
  double standstill_speed{0.05};  ///< below this share of full speed the vehicle stands
  double dead_ms{750};            ///< timed only

  double cut_ms{250};      ///< no valid pulse for this long: motor off
  double disarm_ms{2000};  ///< and for this long: it must be armed again

  // The vehicle it drives, as far as the ESC feels it: speed follows drive with one time constant each.
  double spin_ms{300};   ///< driven
  double coast_ms{600};  ///< motor off
  double brake_ms{120};  ///< braking
};

}  // namespace midstick::esc
