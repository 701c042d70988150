// What went in and came out, read from a sweep's capture: settled readings of held positions, and single pulses of what moved.
//
// Input widths are those that the board executed, not those asked for. Widths are us of true time. A reading's U (95 %) is of the mean of
// its pulses: their scatter, taken over all settled readings of that output since each has few, and what the bench itself does not know
// (judge/uncertainty.hpp), which averaging does not lessen. Pure; what is not there is left out. Holds no reference to the capture.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/judge/pulses.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::sweep {

struct Level {
  double us{0}, u{0};              ///< mean, U (95 %)
  double spread{0};                ///< largest less smallest
  int pulses{0};                   ///< 0: silent
  double scatter_u{0};             ///< part of u that is the pulses' scatter, 95 %
  double first_us{0}, rest_us{0};  ///< means of the first third and of the rest of the pulses (extremes.hpp)
  bool settled() const { return pulses > 1 && spread <= kSettledUs; }
  static constexpr double kSettledUs = 8;  ///< a controller's own jitter is less, what is still on its way more
  static constexpr std::size_t kPickingShare = 3;
};

/// From the widths of a reading's pulses and what they have in common of U; their scatter is not in it yet.
Level level_of(std::span<const double> us, double common_u);
/// Adds the scatter of single pulses, `sd`, to the level's U.
void add_scatter(Level& level, double sd);

/// One held position.
struct Reading {
  std::string leg;         ///< label of its mark
  std::vector<double> in;  ///< by controller input, us
  std::vector<Level> out;  ///< by controller output
};

/// One output pulse of a moving leg.
struct Moving {
  double ms{0};  ///< its rise, after the leg's first mark
  double us{0};
};

/// Pulses of one line over the whole capture, with widths in us.
class Lines {
 public:
  Lines(const capture::Capture& capture, const script::ControllerDescription& controller);

  const capture::Capture& capture() const { return *capture_; }
  std::size_t inputs() const { return inputs_.size(); }
  std::size_t outputs() const { return outputs_.size(); }
  const judge::PulseTrain& input(std::size_t i) const { return inputs_[i]; }
  const judge::PulseTrain& output(std::size_t o) const { return outputs_[o]; }
  double us(const judge::Pulse& p) const { return capture_->clock.us(p.width()); }
  double uncertainty(const judge::Pulse& p) const;
  BoardSpan ticks_ms(double ms) const { return capture_->clock.ticks({static_cast<std::int64_t>(ms * 1e6)}); }
  double ms(BoardSpan span) const { return capture_->clock.us(span) / 1e3; }

 private:
  const capture::Capture* capture_;  ///< must outlive this
  std::vector<judge::PulseTrain> inputs_, outputs_;
};

/// A mark and where its stretch ends: at the next mark, else at the segment's end.
struct Leg {
  std::string label;
  BoardTime begin, end;
  std::vector<double> asked;  ///< by controller input, us
};
std::vector<Leg> legs_of(const capture::Segment& segment);

/// A reading of each leg whose label begins with `label`, over its last `read_ms`.
std::vector<Reading> readings(const Lines& lines, const std::vector<Leg>& legs, const std::string& label, double read_ms);

/// Pulses of output `o` that rise in a leg, and for `after_ms` beyond it.
std::vector<Moving> moving(const Lines& lines, const Leg& leg, std::size_t o, double after_ms);

}  // namespace midstick::sweep
