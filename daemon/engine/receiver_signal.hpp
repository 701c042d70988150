// A receiver's recorded channels as pulses in us of true time since the capture began, and the small statistics that a study of them needs.
//
// Highs of over 5 ms are no pulses (a frozen line). Owns its pulses. Times are us. Nothing fails: what is not there is empty.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"

namespace midstick::engine {

struct SignalPulse {
  double rise_us, width_us;
};
struct Stretch {
  double begin_us{0}, end_us{0};
};

class Signal {
 public:
  Signal(const capture::Capture& recording, std::size_t channels);

  bool has(const std::string& mark) const;
  /// From so long after a mark to the next one.
  Stretch step(const std::string& mark, double after_us) const;
  /// The end of a step.
  Stretch tail(const std::string& mark, double length_us) const;
  /// Pulses that rise within.
  std::vector<SignalPulse> pulses(std::size_t channel, Stretch stretch) const;
  std::optional<SignalPulse> first_in(std::size_t channel, Stretch stretch) const;
  bool high_at(std::size_t channel, double us) const;
  /// For each pulse of `of`, how long after its rise (or fall) the rise of `channel` nearest to it comes; within half a period.
  std::vector<double> rises_after(std::size_t of, std::size_t channel, Stretch stretch, double period_us) const;
  std::vector<double> rises_after_fall(std::size_t of, std::size_t channel, Stretch stretch, double period_us) const;

 private:
  std::vector<double> distances(std::size_t of, std::size_t channel, Stretch stretch, double period_us, bool from_fall) const;

  struct Level {
    double us;
    bool level;
  };
  std::vector<std::vector<SignalPulse>> pulses_;  ///< by channel
  std::vector<std::vector<Level>> levels_;
  std::vector<std::pair<std::string, Stretch>> steps_;
};

std::vector<double> widths_of(const std::vector<SignalPulse>& pulses);
/// Median; 0 of none.
double middle(std::vector<double> values);
/// Half of the middle 95 %; 0 of none.
double spread(std::vector<double> values);

}  // namespace midstick::engine
