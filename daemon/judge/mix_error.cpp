#include "daemon/judge/mix_error.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/judge/statistics.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/uncertainty.hpp"

namespace midstick::judge {
namespace {

struct Departure {
  std::string text;
  mixer::MixerSpec spec;
  bool swapped{false};
};

const char* text(mixer::Law law) {
  switch (law) {
    case mixer::Law::clip:
      return "plain clipping of each side (steering is lost at full throttle)";
    case mixer::Law::proportional:
      return "the proportional law";
    case mixer::Law::throttle_priority:
      return "throttle priority";
    case mixer::Law::steering_priority:
      return "steering priority";
    case mixer::Law::blend:
      return "the blend law";
    case mixer::Law::halved:
      return "a halved mix";
    default:
      break;
  }
  return "";
}

std::vector<Departure> departures(const mixer::MixerSpec& spec) {
  std::vector<Departure> all;
  const auto with = [&](std::string what, auto change) {
    Departure d{std::move(what), spec, false};
    change(d.spec);
    all.push_back(std::move(d));
  };
  for (const auto law :
       {mixer::Law::clip, mixer::Law::proportional, mixer::Law::throttle_priority, mixer::Law::steering_priority, mixer::Law::halved})
    if (law != spec.law) with(text(law), [&](auto& s) { s.law = law; });
  using mixer::ReverseSteering;
  const bool car = spec.reverse_steering == ReverseSteering::car;
  with(car ? "steering that keeps its sign in reverse" : "steering that changes its sign in reverse",
       [&](auto& s) { s.reverse_steering = car ? ReverseSteering::tank : ReverseSteering::car; });
  with("a reversed throttle", [](auto& s) { s.throttle.reversed = !s.throttle.reversed; });
  with("reversed steering", [](auto& s) { s.steering.reversed = !s.steering.reversed; });
  with("a reversed left output", [](auto& s) { s.left.reversed = !s.left.reversed; });
  with("a reversed right output", [](auto& s) { s.right.reversed = !s.right.reversed; });
  with("no dead band", [](auto& s) { s.throttle.dead_band = s.steering.dead_band = mixer::DeadBandKind::none; });
  with("no reverse limit", [](auto& s) { s.left.reverse_limit = s.right.reverse_limit = 1; });
  with("no expo", [](auto& s) { s.throttle.expo = s.steering.expo = 0; });
  all.push_back({"left and right swapped", spec, true});
  return all;
}

double worst(const Departure& d, const std::vector<Reading>& readings, double input_us) {
  double worst = 0;
  for (Reading r : readings) {
    if (d.swapped) std::swap(r.side[0], r.side[1]);
    for (const Side s : kSides) worst = std::max(worst, std::abs(error_us(d.spec, r, s, input_us)));
  }
  return worst;
}

}  // namespace

std::vector<Reading> readings(const Context& c, const std::vector<Traffic>& all, std::size_t needed) {
  std::vector<Reading> found;
  for (const Traffic& t : all) {
    const auto stretches = holds(t, still_us(c.plan, c.check));
    const auto slewing = slewing_ms(c, t, stretches);
    for (std::size_t i = 0; i < stretches.size(); ++i) {
      const Hold& h = stretches[i];
      const double settle = param(c.check, "settle_ms") + slewing[i];
      Reading r{h, &t, {}};
      bool enough = true;
      for (const Side s : kSides) {
        const Widths w = widths_of(t, t.output(s).within(h.begin + t.ticks_ms(settle), h.end));
        enough = enough && w.us.size() >= needed;
        const Summary sum = summarise(w.us);
        r.side[static_cast<int>(s)] = {sum.mean, mean_uncertainty(sum.sd, sum.samples, w.uncertainty), sum.samples};
      }
      if (enough) found.push_back(r);
    }
  }
  return found;
}

mixer::Interval asked(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us) {
  const auto range = mixer::expected_within(spec, r.hold.throttle_us, r.hold.steering_us, input_us + r.hold.half_us);
  return s == Side::left ? range.left : range.right;
}

double error_us(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us) {
  const mixer::Interval want = asked(spec, r, s, input_us);
  const double us = r.at(s).mean_us;
  return us > want.high ? us - want.high : us < want.low ? us - want.low : 0;
}

std::string consistent_with(const mixer::MixerSpec& spec, const std::vector<Reading>& readings, double input_us, double tolerance_us) {
  double best = tolerance_us;
  std::string found;
  for (const Departure& d : departures(spec)) {
    const double w = worst(d, readings, input_us);
    if (w <= best && (found.empty() || w < best)) best = w, found = d.text;
  }
  return found;
}

double percent_of(const mixer::InputSpec& in, double width_us) {
  const double off = width_us - in.centre_us;
  const double x = off >= 0 ? off / (in.high_us - in.centre_us) : off / (in.centre_us - in.low_us);
  return (in.reversed ? -x : x) * 100;
}

}  // namespace midstick::judge
