#include "daemon/sweep/course.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace midstick::sweep {
namespace {

using script::Move;
using Sticks = std::map<std::string, double>;

constexpr double kDitherUs = 40;
constexpr double kNudgeUs = 250, kNudgeMs = 800;
constexpr double kSmallFromUs = 250, kSmallUs = 20, kSmallMs = 400;
constexpr int kSmallSteps = 6;
constexpr double kThrowMs = 1600, kTurnMs = 2200;
constexpr double kFastMs = 1000;
constexpr double kReadMs = 50;  ///< a reading looks at the outputs for this long, and for two of their frames at least
constexpr int kTinySteps = 24;
constexpr double kMarginMs = 500;

/// Whole frames, at least two: a dithered one may be longer than a move of one.
double frames_ms(const Settings& s, double ms) { return std::max(2.0, std::ceil(ms * 1e3 / s.frame_us - 1e-6)) * s.frame_us / 1e3; }

/// The probe saw the wait for the next output frame at a few phases only, and no filter that wants one pulse more at an edge.
double settling_ms(const Settings& s, const Pace& pace) { return pace.small_ms + pace.output_ms + s.frame_us / 1e3; }

class Course {
 public:
  Course(const script::ControllerDescription& controller, const Settings& settings, const char* name) : settings_(settings) {
    for (const auto& pin : controller.inputs) centre_[pin.name] = settings.centre_us;
    out_.name = name;
    out_.frame.period_us = settings.frame_us;
    out_.frame.dither_us = kDitherUs;
  }

  Sticks at(const std::string& input, double us) const {
    Sticks sticks = centre_;
    sticks[input] = us;
    return sticks;
  }
  const Sticks& centre() const { return centre_; }
  Move& hold(Sticks sticks, double ms, std::string mark) {
    Move move;
    move.from = std::move(sticks);
    move.for_ms = frames_ms(settings_, ms);
    move.mark = std::move(mark);
    return out_.moves.emplace_back(std::move(move));
  }
  void ramp(const std::string& input, double from, double to, double ms, std::string mark) {
    Move& move = hold(at(input, from), ms, std::move(mark));
    move.kind = Move::Kind::ramp;
    move.to = at(input, to);
  }
  void points(std::vector<Sticks> points, double dwell_ms, std::string mark) {
    Move move;
    move.kind = Move::Kind::points;
    move.point_ms = frames_ms(settings_, dwell_ms);
    move.for_ms = move.point_ms * static_cast<double>(points.size());
    move.points = std::move(points);
    move.mark = std::move(mark);
    out_.moves.push_back(std::move(move));
  }
  script::StickScript take() { return std::move(out_); }

 private:
  const Settings& settings_;
  Sticks centre_;
  script::StickScript out_;
};

/// Positions of the slow sweep, rising: fine about the centre.
std::vector<double> positions(const Settings& s) {
  std::vector<double> out;
  const auto steps = [&](double from, double to, double step) {
    for (double x = from; x < to - step / 4; x += step) out.push_back(x);
  };
  steps(s.low_us, s.centre_us - s.fine_half_us, s.step_us);
  steps(s.centre_us - s.fine_half_us, s.centre_us + s.fine_half_us, s.fine_step_us);
  steps(s.centre_us + s.fine_half_us, s.high_us, s.step_us);
  out.push_back(s.high_us);
  return out;
}

/// Which of the sides that drive straight and turn at once would be ahead (+1), back (-1) or neutral.
std::pair<int, int> sides(double row, double column) {
  const auto sign = [](double x) { return (x > 1e-9) - (x < -1e-9); };
  return {sign(row + column), sign(row - column)};
}

/// Row by row, every other row backwards, so that no step is a long one. Where a side of a mixing controller may turn round it is given
/// time to rest at neutral, twice since the other may follow; what has not settled all the same is seen in the readings.
void add_grid(Course& course, const Settings& s, const Pace& pace, double dwell, const std::string& row, const std::string& column) {
  const double slewing = 2.0 / (s.grid - 1) * std::max(0.0, pace.out_ms - pace.small_ms);
  const double resting = 2 * std::max(0.0, pace.turn_ms - pace.out_ms - pace.back_ms + pace.small_ms);
  const auto place = [&](int i) { return 2.0 * i / (s.grid - 1) - 1; };
  auto before = sides(place(0), place(0));
  for (int r = 0; r < s.grid; ++r)
    for (int i = 0; i < s.grid; ++i) {
      const int c = r % 2 == 0 ? i : s.grid - 1 - i;
      Sticks sticks = course.at(row, s.centre_us + s.stick_us * place(r));
      sticks[column] = s.centre_us + s.stick_us * place(c);
      const auto now = sides(place(r), place(c));
      if (r == 0 && i == 0) course.hold(sticks, pace.turn_ms + kMarginMs, kRest);
      course.hold(std::move(sticks), dwell + slewing + (now != before ? resting : 0), kGrid);
      before = now;
    }
}

}  // namespace

script::StickScript probe(const script::ControllerDescription& controller, const Settings& s) {
  Course course(controller, s, "probe");
  const std::string& first = controller.inputs.front().name;
  for (const int times : {1, 2, 4}) {
    Move& rest = course.hold(course.centre(), s.arm_ms * times, kRest);
    if (times == 1) rest.actions = {script::ActionKind::power_on};
    course.hold(course.at(first, s.centre_us + kNudgeUs), kNudgeMs, kNudge);
  }
  course.hold(course.centre(), s.arm_ms, kRest);
  for (const auto& pin : controller.inputs) {
    for (int i = 0; i < kSmallSteps; ++i)
      course.hold(course.at(pin.name, s.centre_us + kSmallFromUs + (i % 2 ? kSmallUs : 0)), i == 0 ? kThrowMs : kSmallMs,
                  i == 0 ? kThrow + pin.name : kSmall + pin.name);
    const double high = s.centre_us + s.stick_us, low = s.centre_us - s.stick_us;
    for (const double us : {s.centre_us, high, s.centre_us, low, s.centre_us, high, low, high, s.centre_us})
      course.hold(course.at(pin.name, us), us == s.centre_us ? kThrowMs : kTurnMs, kThrow + pin.name);
  }
  return course.take();
}

double read_ms(const Settings& s, const Pace& pace) {
  const double settling = settling_ms(s, pace);
  return frames_ms(s, settling + std::max(kReadMs, 2.2 * pace.output_ms)) - settling;
}

script::StickScript course(const script::ControllerDescription& controller, const Settings& s, const Pace& pace) {
  Course course(controller, s, "sweep");
  const double dwell = settling_ms(s, pace) + read_ms(s, pace);
  course.hold(course.centre(), pace.arm_ms + kMarginMs, kRest).actions = {script::ActionKind::power_on};
  for (const auto& pin : controller.inputs) {
    std::vector<Sticks> up;
    for (const double x : positions(s)) up.push_back(course.at(pin.name, x));
    std::vector<Sticks> down(up.rbegin(), up.rend());
    course.hold(course.at(pin.name, s.low_us), pace.turn_ms + kMarginMs, kRest);
    course.points(std::move(up), dwell, kSlowUp + pin.name);
    course.points(std::move(down), dwell, kSlowDown + pin.name);
    course.ramp(pin.name, s.low_us, s.high_us, kFastMs, kFastUp + pin.name);
    course.hold(course.at(pin.name, s.high_us), pace.turn_ms + kMarginMs, kRest);
    course.ramp(pin.name, s.high_us, s.low_us, kFastMs, kFastDown + pin.name);
    course.hold(course.at(pin.name, s.low_us), pace.turn_ms + kMarginMs, kRest);
    std::vector<Sticks> tiny;
    const double from = s.centre_us + kSmallFromUs;
    for (int i = 0; i <= kTinySteps; ++i) tiny.push_back(course.at(pin.name, from + i * kTinyStepUs));
    course.hold(tiny.front(), pace.turn_ms, kRest);
    course.points(std::move(tiny), dwell, kTiny + pin.name);
    course.hold(course.centre(), pace.back_ms + kMarginMs, kRest);
  }
  if (controller.inputs.size() > 1) add_grid(course, s, pace, dwell, controller.inputs[0].name, controller.inputs[1].name);
  course.hold(course.centre(), kMarginMs, kRest);
  return course.take();
}

}  // namespace midstick::sweep
