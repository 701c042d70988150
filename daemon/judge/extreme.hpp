// The reading furthest towards, or past, its limits among many pulses, some of which are stamped coarsely.
//
// A pulse whose edges fell too close to another's has a wide bound and could leave every limit undecided. While at least half of all pulses
// are stamped well, only those speak, and the note says how many were set aside; a coarse pulse that is outside a limit by more than its
// own bound always speaks. Keeps pointers to the Traffic it was given. Plain value, no threads.
#pragma once

#include <optional>
#include <string>

#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

class Extreme {
 public:
  Extreme(std::optional<double> low, std::optional<double> high) : low_(low), high_(high) {}

  /// A reading of this pulse; `value` in us, its U is that of the pulse's width.
  void add(const Traffic& traffic, const Pulse& pulse, double value);
  /// A reading without a pulse of its own (a line that stays high): outside for certain.
  void add_certain(double value);
  void merge(const Extreme& other);

  /// The measure, in us. A pass says what the number of pulses supports.
  Measure as_measure(std::string name, std::int64_t needed) const;
  /// The furthest reading: its value, and its pulse where it has one. 0 without readings.
  double value() const { return chosen() ? chosen()->value : 0; }
  std::optional<Pulse> pulse() const { return chosen() ? chosen()->pulse : std::nullopt; }
  const Traffic* traffic() const { return chosen() ? chosen()->traffic : nullptr; }
  bool failing() const { return chosen() && chosen()->verdict == Verdict::fail; }

 private:
  struct Reading {
    double value{0}, uncertainty{0};
    Verdict verdict{Verdict::pass};
    std::optional<Pulse> pulse;
    const Traffic* traffic{nullptr};
  };
  struct Group {
    std::optional<Reading> worst;
    std::int64_t readings{0};
  };
  void take(Group& group, const Reading& r);
  bool worse(const Reading& a, const Reading& b) const;
  double excess(double value) const;
  bool fine_suffice() const { return fine_.readings >= coarse_.readings && fine_.readings > 0; }
  const Reading* chosen() const;

  std::optional<double> low_, high_;
  Group fine_, coarse_;  ///< a coarse reading that is outside for certain counts as fine
};

}  // namespace midstick::judge
