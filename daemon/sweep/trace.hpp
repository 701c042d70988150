// The slow sweep as a curve to look up, and the fast sweep laid over it. Pure; us and ms of true time.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "daemon/sweep/map.hpp"

namespace midstick::sweep {

/// Linear between the readings of the slow sweep, flat beyond them.
class Slow {
 public:
  explicit Slow(const std::vector<CurvePoint>& points);
  double at(double in, bool up) const;

 private:
  struct At {
    double in, out;
  };
  std::vector<At> up_, down_;
};

/// The lag that lays the pulses best on the slow curve, and what is left; nothing with fewer than ten pulses. `stick(ms)`: the input's last
/// width that was known by then.
std::optional<FastMap> follow(const Slow& slow, const std::vector<Moving>& pulses, const std::function<double(double ms)>& stick, bool up);

}  // namespace midstick::sweep
