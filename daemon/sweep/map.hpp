// The map of a controller: what each output makes of each input, as numbers with their uncertainty.
//
// map_of() is pure: from a sweep's capture (play.hpp) to the map; no mixer spec plays a part. All U are 95 %. Widths are us of true time:
// a controller whose own clock is off shows its widths as the outside world sees them. Input positions are us as sent by the bench. What
// could not be found is empty, never guessed. U holds the scatter of the controller's own reading and its counting in steps of up to 0.5
// us. Fails with bench_unfit where the probe's part does (pace.hpp), or a leg is missing.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/script/controller.hpp"
#include "daemon/sweep/pace.hpp"
#include "daemon/sweep/side_fit.hpp"

namespace midstick::sweep {

/// A dead-band edge, end or gain with its position in us of input (side_fit.hpp counts from the centre; this does not).
struct SideMap {
  SideFit fit;
  std::optional<Value> edge, leaving, entering, end;  ///< us of input
  std::optional<Value> hysteresis;                    ///< leaving further out than entering, us of input
  double gain_from{0}, gain_to{0};                    ///< us of input
};

struct CurvePoint {
  double in{0};
  Level out;
  bool up{true};
};

/// The fast sweep against the slow one.
struct FastMap {
  double lag_ms{0};       ///< the output follows the stick so much later (best fit)
  double residual_us{0};  ///< largest distance that is left then: what the slow curve does not explain
};

struct CurveMap {
  std::string input, output;
  bool answers{false};
  Value neutral;          ///< output with the input at its centre, us
  SideMap low, high;      ///< input below and above its centre
  Value hysteresis;       ///< largest difference of the ways up and down at one position, us of output
  double step_back{0};    ///< largest step against the output's own direction on one way, us; 0: monotonic
  double step_back_u{0};  ///< U of a step's size: a smaller step back is noise
  bool monotonic{true};
  std::optional<double> smallest_step;  ///< us of input: steps of this size always showed; none of those tried did: empty
  std::optional<FastMap> fast;
  Slew slew;
  std::vector<CurvePoint> points;
};

struct GridPoint {
  std::vector<double> in;
  std::vector<Level> out;
};

/// How far two inputs together are from the sum of each alone.
struct Coupling {
  std::string output;
  double unclipped_us{0};  ///< largest difference where the sum lies within what the output was seen to reach
  double largest_us{0};    ///< anywhere on the grid
  double u{0};
  double at_first{0}, at_second{0};  ///< position of the largest, us of input
};

struct Map {
  std::string controller, bench;
  std::vector<std::string> inputs, outputs;
  Settings settings;
  Probed probed;
  std::vector<Value> neutral;    ///< by output: at rest, armed
  std::vector<Value> low, high;  ///< by output: shortest and longest width seen
  std::vector<CurveMap> curves;  ///< input by input, output by output
  std::vector<GridPoint> grid;   ///< settled positions of the first two inputs, row by row
  std::size_t unsettled{0};      ///< grid positions left out since an output was still on its way
  std::vector<Coupling> coupling;
  double board_s{0};  ///< board time of the whole sweep

  const CurveMap& curve(std::size_t input, std::size_t output) const { return curves[input * outputs.size() + output]; }
};

Result<Map> map_of(const capture::Capture& capture, const script::ControllerDescription& controller, const Settings& settings);

}  // namespace midstick::sweep
