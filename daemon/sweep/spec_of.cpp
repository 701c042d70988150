#include "daemon/sweep/spec_of.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <utility>

#include "daemon/mixer/learn_table.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/script/write_mixer.hpp"

namespace midstick::sweep {
namespace {

using mixer::MixerSpec;

constexpr double kLeastExpo = 0.03;
constexpr double kBlendStep = 0.01;
constexpr double kBetter = 1.05;  ///< a later law must fit so much better than an earlier, simpler one

/// A multiple of `step`, and no more digits than that needs.
double rounded(double x, double step) { return std::round(std::round(x / step) * step * 1e6) / 1e6; }

/// The roundest number within the uncertainty: 1500 for 1499.98 +- 0.3.
double tidy(const Value& v, std::initializer_list<double> steps) {
  for (const double step : steps)
    if (const double r = rounded(v.value, step); std::abs(r - v.value) <= v.u) return r;
  return rounded(v.value, *std::prev(steps.end()));
}
double tidy_us(const Value& v) { return tidy(v, {10, 5, 1, 0.5, 0.1}); }
double tidy_share(const Value& v) { return tidy(v, {0.1, 0.05, 0.01, 0.001}); }

Value mean(const std::vector<Value>& all) {
  Value out;
  for (const Value& v : all) out.value += v.value / static_cast<double>(all.size()), out.u = std::max(out.u, v.u);
  return out;
}

std::string text(double x, int decimals) {
  char out[32];
  std::snprintf(out, sizeof out, "%.*f", decimals, x);
  return out;
}

class Writer {
 public:
  explicit Writer(const Map& map) : map_(map) {}

  Result<Spec> write() {
    if (map_.inputs.size() != 2 || map_.outputs.size() != 2)
      return Error{ErrorKind::bench_unfit, "a spec is written of controllers with two inputs and two outputs only"};
    for (const CurveMap& c : map_.curves)
      if (!c.low.fit.answers || !c.high.fit.answers || !c.low.fit.gain || !c.high.fit.gain)
        return Error{ErrorKind::bench_unfit, "output \"" + c.output + "\" does not answer input \"" + c.input + "\" both ways"};
    outputs();
    input(0, spec_.throttle);
    input(1, spec_.steering);
    const bool mixes = directions();
    rate(0, spec_.throttle);
    rate(1, spec_.steering);
    if (mixes) find_law();
    if (!mixes || largest_ > kLawUs)
      if (auto s = table(); !s) return s.error();
    return finished();
  }

 private:
  struct Named {
    mixer::Law law;
    const char* name;
  };
  static constexpr Named kLaws[] = {{mixer::Law::clip, "clip"},
                                    {mixer::Law::proportional, "proportional"},
                                    {mixer::Law::throttle_priority, "throttle_priority"},
                                    {mixer::Law::steering_priority, "steering_priority"},
                                    {mixer::Law::blend, "blend"}};

  void outputs() {
    mixer::OutputSpec* outs[] = {&spec_.left, &spec_.right};
    for (std::size_t o = 0; o < 2; ++o) {
      outs[o]->name = map_.outputs[o];
      outs[o]->neutral_us = tidy_us(map_.neutral[o]);
      outs[o]->low_us = outs[o]->clamp_low_us = tidy_us(map_.low[o]);
      outs[o]->high_us = outs[o]->clamp_high_us = tidy_us(map_.high[o]);
    }
  }

  /// A value of both sides of one input's curves, over both outputs.
  template <class Get>
  std::vector<Value> over(std::size_t i, Get get) const {
    std::vector<Value> out;
    for (std::size_t o = 0; o < 2; ++o)
      for (const SideMap* s : {&map_.curve(i, o).low, &map_.curve(i, o).high})
        if (const std::optional<Value> v = get(*s)) out.push_back(*v);
    return out;
  }

  void input(std::size_t i, mixer::InputSpec& in) {
    in.name = map_.inputs[i];
    const CurveMap& c = map_.curve(i, 0);
    const double centre = map_.settings.centre_us, stick = map_.settings.stick_us;
    in.centre_us = c.low.edge && c.high.edge
                       ? tidy_us({(c.low.edge->value + c.high.edge->value) / 2, std::hypot(c.low.edge->u, c.high.edge->u) / 2})
                       : centre;
    in.low_us = c.low.end ? tidy_us(*c.low.end) : centre - stick;
    in.high_us = c.high.end ? tidy_us(*c.high.end) : centre + stick;
    const bool jumps = c.low.fit.jumps && c.high.fit.jumps;
    const auto edges = over(i, [](const SideMap& s) { return s.fit.edge; });
    const auto hysteresis = over(i, [](const SideMap& s) { return s.hysteresis; });
    const Value half = mean(edges), between = mean(hysteresis);
    in.dead_band_half_us = edges.empty() ? 0 : tidy_us({half.value, std::min(half.u, 1.0)});
    in.dead_band_hysteresis_us = std::max(0.0, tidy_us({between.value / 2, std::min(between.u / 2, 1.0)}));
    const bool none = edges.empty() || half.value <= std::max(1.0, half.u);
    using Kind = mixer::DeadBandKind;
    in.dead_band = none && !jumps ? Kind::none : !jumps ? Kind::continuous : between.value > between.u ? Kind::hysteresis : Kind::jump;
    if (none) in.dead_band_half_us = 0;
    in.expo = expo(i, in);
  }

  /// Share of the cube in y = A (a x^3 + (1 - a) x), by least squares over both outputs and sides; 0 where a line does.
  double expo(std::size_t i, const mixer::InputSpec& in) const {
    mixer::InputSpec plain = in;
    plain.expo = 0, plain.rate = 1;
    double along = 0, squares = 0, left = 0;
    int n = 0;
    for (std::size_t o = 0; o < 2; ++o)
      for (const CurvePoint& p : map_.curve(i, o).points) {
        const double x = mixer::stick(plain, p.in), u = std::abs(p.in - in.centre_us);
        if (x == 0 || std::abs(x) == 1 || std::abs(u - in.dead_band_half_us) <= in.dead_band_hysteresis_us + 2) continue;
        const CurveMap& c = map_.curve(i, o);
        const double reach = (x > 0 ? c.high : c.low).fit.last.value - c.neutral.value;
        const double bend = std::abs(reach) * (std::abs(x * x * x) - std::abs(x)),
                     off = (p.out.us - c.neutral.value) * (reach > 0 ? 1 : -1) - std::abs(reach * x);
        along += bend * off, squares += bend * bend, left += off * off, ++n;
      }
    if (squares == 0 || n < 10) return 0;
    const double a = along / squares, sd = std::sqrt(std::max(0.0, left - a * along) / n), u = 2 * sd / std::sqrt(squares);
    return a < kLeastExpo ? 0 : std::min(1.0, tidy_share({a, std::max(u, 0.005)}));
  }

  /// Which way inputs and outputs run; false when it is no left T + S, right T - S.
  bool directions() {
    const auto sign = [&](std::size_t i, std::size_t o) { return map_.curve(i, o).high.fit.gain->value > 0 ? 1 : -1; };
    int left = sign(0, 0), right = sign(0, 1);
    if (left < 0 && right < 0) spec_.throttle.reversed = true, left = right = 1;
    spec_.left.reversed = left < 0, spec_.right.reversed = right < 0;
    const int turn = sign(1, 0) * left;
    spec_.steering.reversed = turn < 0;
    return sign(1, 1) == -turn * right;
  }

  void rate(std::size_t i, mixer::InputSpec& in) const {
    std::vector<Value> shares;
    for (std::size_t o = 0; o < 2; ++o) {
      const mixer::OutputSpec& out = o == 0 ? spec_.left : spec_.right;
      for (const SideMap* s : {&map_.curve(i, o).low, &map_.curve(i, o).high}) {
        const double reach = s->fit.last.value - map_.neutral[o].value,
                     room = reach > 0 ? out.high_us - out.neutral_us : out.neutral_us - out.low_us;
        shares.push_back({std::abs(reach) / std::max(1.0, room), std::hypot(s->fit.last.u, map_.neutral[o].u) / std::max(1.0, room)});
      }
    }
    in.rate = std::min(1.0, tidy_share(mean(shares)));
  }

  void judge(const MixerSpec& spec, double& rms, double& largest) const {
    double squares = 0;
    largest = 0;
    for (const GridPoint& p : map_.grid) {
      const auto want = mixer::expected(spec, p.in[0], p.in[1]);
      for (const double off : {p.out[0].us - want.left_us, p.out[1].us - want.right_us})
        squares += off * off, largest = std::max(largest, std::abs(off));
    }
    rms = map_.grid.empty() ? 1e9 : std::sqrt(squares / (2 * static_cast<double>(map_.grid.size())));
  }

  void find_law() {
    for (const auto reverse : {mixer::ReverseSteering::tank, mixer::ReverseSteering::car})
      for (const Named& named : kLaws)
        for (double k = 0; k <= (named.law == mixer::Law::blend ? 1 : 0); k += kBlendStep) {
          MixerSpec candidate = spec_;
          candidate.law = named.law, candidate.reverse_steering = reverse, candidate.blend = k;
          double rms = 0, largest = 0;
          judge(candidate, rms, largest);
          if (law_.empty() || rms * kBetter < rms_) best_ = candidate, law_ = named.name, rms_ = rms, largest_ = largest;
          // Among blends alone the best one counts, however little better it is.
          else if (law_ == "blend" && named.law == mixer::Law::blend && rms < rms_)
            best_ = candidate, rms_ = rms, largest_ = largest;
        }
    if (law_ == "blend") best_.blend = tidy({best_.blend, kBlendStep}, {0.05, 0.01});
    spec_ = best_;
    judge(spec_, rms_, largest_);
  }

  Status table() {
    MixerSpec plain = spec_;
    for (auto* in : {&plain.throttle, &plain.steering}) in->dead_band = mixer::DeadBandKind::none, in->expo = 0, in->rate = 1;
    std::vector<mixer::LearnedPoint> points;
    for (const GridPoint& p : map_.grid)
      points.push_back({mixer::stick(plain.throttle, p.in[0]), mixer::stick(plain.steering, p.in[1]), p.out[0].us, p.out[1].us});
    auto learned = mixer::learn_table(points);
    if (!learned) return Error{ErrorKind::bench_unfit, "no known law fits, and the grid has gaps: " + learned.error().message};
    spec_.law = mixer::Law::table, spec_.table = learned.take(), law_ = "table";
    judge(spec_, rms_, largest_);
    return Ok{};
  }

  nlohmann::ordered_json input_json(std::size_t i, const mixer::InputSpec& in) const {
    nlohmann::ordered_json out{{"input", in.name}, {"low_us", in.low_us}, {"centre_us", in.centre_us}, {"high_us", in.high_us}};
    if (in.reversed) out["reversed"] = true;
    static constexpr const char* kinds[] = {"none", "jump", "continuous", "curve", "soft", "hysteresis"};
    if (in.dead_band != mixer::DeadBandKind::none) {
      out["dead_band"] = {{"kind", kinds[static_cast<int>(in.dead_band)]}, {"half_width_us", in.dead_band_half_us}};
      if (in.dead_band == mixer::DeadBandKind::hysteresis) out["dead_band"]["hysteresis_us"] = in.dead_band_hysteresis_us;
    }
    if (in.expo > 0) out["expo"] = in.expo;
    if (in.rate < 1) out["rate"] = in.rate;
    const double room = spec_.left.high_us - spec_.left.neutral_us;
    const Slew& slew = map_.curve(i, 0).slew;
    const auto travels = [&](const Value& us_s) {
      return tidy({us_s.value / room, std::max(us_s.u, 0.03 * us_s.value) / room}, {0.5, 0.1, 0.01});
    };
    if (slew.out_us_s.value > 0) out["slew_up"] = travels(slew.out_us_s);
    if (slew.back_us_s.value > 0) out["slew_down"] = travels(slew.back_us_s);
    return out;
  }

  nlohmann::ordered_json output_json(const mixer::OutputSpec& o) const {
    nlohmann::ordered_json out{{"output", o.name}, {"low_us", o.low_us}, {"neutral_us", o.neutral_us}, {"high_us", o.high_us}};
    if (o.reversed) out["reversed"] = true;
    return out;
  }

  /// What the probe saw of time, with room for what it did not: it tried few phases. The room is common practice, no source.
  void times(nlohmann::ordered_json& mixer) const {
    const auto up_to = [](double x, double step) { return std::ceil(x / step) * step; };
    double rest = 0;
    for (const CurveMap& c : map_.curves)
      if (c.slew.rest_ms.value > 0) rest = std::max(rest, c.slew.rest_ms.value + c.slew.rest_ms.u);
    const Pace& pace = map_.probed.pace;
    if (rest > 0) mixer["turn_rest_ms"] = up_to(rest, 5);
    mixer["latency_max_ms"] = up_to(pace.small_ms + 2 * pace.output_ms + map_.settings.frame_us / 1e3, 5);
    const auto [low, high] = std::ranges::minmax(map_.probed.frame_ms);
    mixer["frame"] = {{"period_low_ms", std::floor(low * 9) / 10}, {"period_high_ms", std::ceil(high * 11) / 10}};
    const double half = std::max(5.0, std::min(25.0, spec_.throttle.dead_band_half_us));
    mixer["arm"] = {{"neutral_half_width_us", half}};
    if (pace.arm_ms > 1500) mixer["arm"]["boot_ms"] = up_to(pace.arm_ms, 100);
  }

  Result<Spec> finished() const {
    nlohmann::ordered_json out{{"format", "midstick mixer 1"}, {"name", "as swept: " + map_.controller.substr(0, 60)}};
    out["throttle"] = input_json(0, spec_.throttle), out["steering"] = input_json(1, spec_.steering);
    out["mix"] = {{"law", law_}};
    if (law_ == "blend") out["mix"]["blend"] = spec_.blend;
    if (law_ != "table") out["mix"]["reverse_steering"] = spec_.reverse_steering == mixer::ReverseSteering::tank ? "tank" : "car";
    out["left"] = output_json(spec_.left), out["right"] = output_json(spec_.right);
    times(out);
    if (law_ == "table") out = nlohmann::ordered_json(script::with_table(nlohmann::json(out), spec_.table));
    return Spec{out,
                "law " + law_ + ", " + text(rms_, 2) + " us rms and " + text(largest_, 2) + " us at most from " +
                    std::to_string(map_.grid.size()) + " positions; look over what a sweep cannot see (loss, arming, receiver)",
                law_, rms_, largest_};
  }

  const Map& map_;
  MixerSpec spec_, best_;
  std::string law_;
  double rms_{1e9}, largest_{1e9};
};

}  // namespace

Result<Spec> spec_of(const Map& map) { return Writer(map).write(); }

}  // namespace midstick::sweep
