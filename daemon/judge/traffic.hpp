// What went in and came out during one segment, by the names of the mixer spec, whichever bench lines they are wired to.
//
// `wire` maps spec names to lines through the controller description; Error{bad_file} names the one that is missing. Traffic
// holds pulse trains of its segment alone and refers to the capture, which must outlive it. Times are board time.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/check.hpp"
#include "daemon/judge/pulses.hpp"

namespace midstick::judge {

struct Wiring {
  std::uint8_t throttle{0}, steering{0};  ///< stimulus lines
  std::uint8_t left{0}, right{0};         ///< response lines
  std::string left_name, right_name;      ///< "R1"; as printed on the bench
};
Result<Wiring> wire(const script::Plan& plan);

/// The two sides of a vehicle, for loops over both outputs.
enum class Side { left, right };
inline constexpr Side kSides[] = {Side::left, Side::right};
constexpr const char* name(Side s) { return s == Side::left ? "left" : "right"; }

class Traffic {
 public:
  Traffic(const Context& context, const capture::Segment& segment, const Wiring& wiring);

  const capture::Segment& segment() const { return *segment_; }
  const PulseTrain& throttle() const { return throttle_; }
  const PulseTrain& steering() const { return steering_; }
  const PulseTrain& output(Side s) const { return s == Side::left ? left_ : right_; }
  std::uint8_t line(Side s) const { return s == Side::left ? wiring_.left : wiring_.right; }
  const Wiring& wiring() const { return wiring_; }
  const capture::Capture& capture() const { return *capture_; }

  /// True time, or the controller's own where the spec allows for a clock that is off (controller_clock.hpp).
  double us(const Pulse& p) const { return us(p.width()); }
  double us(BoardSpan s) const { return capture_->clock.us(s) / controller_clock_; }
  double ms(BoardSpan s) const { return us(s) / 1e3; }
  BoardSpan ticks_ms(double ms) const { return capture_->clock.ticks({static_cast<std::int64_t>(ms * controller_clock_ * 1e6)}); }
  /// U (95 %) of a pulse's width, us.
  double width_uncertainty(const Pulse& p) const;
  /// Marks of the segment with this label, in order.
  std::vector<const capture::Mark*> marks(const std::string& label) const;
  /// End of the stretch that a mark begins: the next mark of any label, else the segment's end.
  BoardTime end_of(const capture::Mark& mark) const;
  /// Evidence: a stretch of this segment on all four lines.
  Span span(BoardTime begin, BoardTime end, std::string label, bool failing) const;

 private:
  const capture::Capture* capture_;
  const capture::Segment* segment_;
  Wiring wiring_;
  double controller_clock_;
  PulseTrain throttle_, steering_, left_, right_;
};

/// One Traffic a segment of the check. Error when the plan's names cannot be wired.
Result<std::vector<Traffic>> traffic_of(const Context& context);

/// Widths in us of some pulses, and the largest U among them. While at least half of the pulses are stamped well, the crowded ones are
/// left out: their wide bounds would drown the rest.
struct Widths {
  std::vector<double> us;
  double uncertainty{0};
};
Widths widths_of(const Traffic& traffic, std::span<const Pulse> pulses);
void add(Widths& to, const Widths& more);

/// Width at which an output means stop: the model's answer to both sticks at centre, trim included.
double neutral_of(const script::Plan& plan, Side s);

}  // namespace midstick::judge
