// A drive controller in pure C++, for tests of the judge: stimulus edges and power switches in, output pulses out.
//
// It does what the mixer spec says (model, arming, loss) in frames of its own clock, reads its inputs in 4 us steps as a simple controller
// does, and has the planted faults. It is an independent player of the rules, no copy of the firmware. Deterministic; time is ns of true
// time from power on of the run.
#pragma once

#include <optional>
#include <vector>

#include "daemon/mixer/spec.hpp"
#include "daemon/script/controller.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::judge_test {

struct Behaviour {
  double frame_ms{20};
  double clock_ppm{300};  ///< positive: its clock is fast, so its pulses are short
  double boot_ms{60};
  double lost_ms{250};
  double arm_ms{520};
  bool input_steps{true};       ///< input edges read in 4 us steps
  double width_noise_us{0.5};   ///< uniform +- on each output width, seeded
  double width_sigma_us{0};     ///< normal noise on each output width on top
  std::uint64_t noise_seed{7};  ///< of the normal noise
  double delay_ms{0};           ///< extra time between input and output
  // Planted faults.
  bool hold_last{false};
  bool ignore_steering_loss{false};
  bool clip{false};
  std::optional<double> right_high_us;  ///< upper end of the right output instead of the spec's
  std::optional<double> right_low_us;   ///< lower end of the right output instead of the spec's
  bool flip_in_reverse{false};
  bool no_dead_band{false};
  double neutral_off_us{0};  ///< added to both outputs, always
  double armed_off_us{0};    ///< added to both outputs once armed
  bool runt_at_boot{false};  ///< 16 us high on the left output, 3 ms after power on
  // Further faults, for single checks.
  bool no_arming{false};       ///< drives whenever pulses come
  bool kick_on_loss{false};    ///< one full-speed pulse when the loss is noticed
  bool silent_on_loss{false};  ///< no pulses while lost or not armed
  bool eager_loss{false};      ///< one missing frame is a loss
  bool dead{false};            ///< no output at all
  double outlier_us{0};        ///< every 97th pulse is this much longer
  bool never_arms{false};
  // The receiver's side.
  int median{1};            ///< widths are the median of so many; no fault where the spec asks for it
  int torn_every{0};        ///< every so many reads across a byte boundary give one byte of each width, in 0.5 us counts
  int slip_every{0};        ///< every so many reads are 1000 us too long
  double save_after_ms{0};  ///< sticks at rest off centre for this long: one output frame is 45 ms longer
  bool armed_over_reset{false};
  bool learns_centre{false};  ///< the first widths within 100 us of centre after a start are its centre
  bool ignores_reset{false};  ///< the reset line is not wired
  bool no_window{false};      ///< every width is a stick position
  bool width_cut{false};      ///< widths are cut to 16 bits of 0.5 us
  bool hides_overlap{false};  ///< a steering pulse that rises while the throttle's is high is not seen
  bool blocking_read{false};  ///< waits for a throttle pulse, then for a steering pulse, and so on
  double least_period_ms{0};  ///< pulses that come sooner after the one before are not seen
  int updates_every{1};       ///< widths are renewed in every so many output frames
  bool pairs_runts{false};    ///< a spike's fall ends the pulse before it, its rise begins the one after it
  // Losing the link.
  bool high_is_alive{false};                                ///< a line that is high does not count as silent
  bool timeout_is_zero{false};                              ///< a lost stick is a width of 0
  double lost_off_us{0};                                    ///< added to neutral while lost
  double lost_ramp_ms{0};                                   ///< from driven to neutral in this time when lost
  bool high_on_loss{false};                                 ///< the outputs stop high when lost
  int right_late_frames{0};                                 ///< the right output carries what belonged into the frame so many before
  double interrupts_off_every_ms{0}, interrupts_off_ms{0};  ///< a pulse's end that falls into such a stretch waits for the stretch's end
  double input_step_us{4};                                  ///< of input_steps
  int filter_frames{1};                                     ///< sticks are means of so many input pulses
  int stalls_every{0};                                      ///< of so many output frames, the first three carry the widths of before
  double steering_late_ms{0};                               ///< further time between steering's pulse and its use
  double slip_us{0};                                        ///< every 37th pulse of an input is read this much too short
  bool frozen_in_storm{false};  ///< edges closer than 300 us keep the program from running; outputs hold their last value
  bool hung_by_storm{false};    ///< the same, and it never runs again until power comes anew
  bool lost_in_storm{false};    ///< takes a storm for a loss of the link
  double stops_at_s{0};         ///< after power on it takes the link for lost once, wrongly
  double deaf_from_s{0};        ///< a loss that begins in the 250 ms before this is never noticed
  bool update_in_pulse{false};  ///< a new width that comes while a pulse is sent starts the pulse anew
  // Sides, law and arithmetic.
  std::optional<mixer::Law> law;  ///< another mixing law than the spec's
  bool right_reversed{false};     ///< the right output's direction turned round
  bool steering_reversed{false};  ///< the steering stick's
  bool sides_swapped{false};      ///< left and right changed places
  double right_gain{1};           ///< the right output's distance from neutral times this
  double wrap_us{0};              ///< an output this far from neutral wraps to the other side; 0 never
  // Towards an ESC.
  double boot_high_ms{0};                    ///< outputs at 1900 us for this long after the boot
  double first_pulses_us{0};                 ///< width of the first five pulses after the boot; 0 as they should be
  double reverse_brake_ms{0};                ///< coming to rest from ahead it drives backwards for this long
  std::optional<mixer::MixerSpec> mixes_by;  ///< another spec than the plan's: any fault of the mix
  int obeys_first_frames{0};                 ///< so many first frames after power on are driven at once
  std::optional<int> deaf_while_high;        ///< a relay's stimulus line: no input pulse is seen while it is high
  bool port_resets{false};                   ///< restarts when its serial port is opened
};

/// Edges on the response lines that the controller description names for the spec's outputs.
struct OutputEdge {
  std::int64_t at_ns{0};
  std::uint8_t line{0};
  bool level{false};
};

/// `timeline`: everything the bench plays, power on at 0 and then as its actions say.
std::vector<OutputEdge> run_controller(const script::Timeline& timeline, const mixer::MixerSpec& spec,
                                       const script::ControllerDescription& controller, const Behaviour& behaviour);

}  // namespace midstick::judge_test
