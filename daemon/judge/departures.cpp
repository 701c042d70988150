#include "daemon/judge/departures.hpp"

#include <cmath>

#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

using mixer::DeadBandKind;
using mixer::Law;
using mixer::MixerSpec;

class Collection {
 public:
  explicit Collection(const MixerSpec& spec) : spec_(&spec) {}

  template <class Change>
  void add(const char* cause, std::string text, Change change) {
    Departure d{cause, std::move(text), *spec_};
    change(d.spec);
    all_.push_back(std::move(d));
  }
  std::vector<Departure> take() { return std::move(all_); }
  std::vector<Departure>& all() { return all_; }

 private:
  const MixerSpec* spec_;
  std::vector<Departure> all_;
};

void add_laws(const MixerSpec& spec, Collection& c) {
  const auto law = [&](const char* cause, Law other, const char* text) {
    if (other != spec.law) c.add(cause, text, [&](MixerSpec& s) { s.law = other; });
  };
  law("plain-clip", Law::clip, "plain clipping of each side (steering is lost at full throttle)");
  law("wrong-law", Law::proportional, "the proportional law");
  law("wrong-law", Law::throttle_priority, "throttle priority");
  law("wrong-law", Law::steering_priority, "steering priority");
  law("wrong-law", Law::halved, "a halved mix");
  law("wrong-law", Law::inner_wheel, "a law that slows the inner side only");
  law("wrong-law", Law::curvature, "a curvature law");
  law("wrong-law", Law::elevon, "an elevon mix");
  if (spec.law == Law::blend)
    for (const double k : {0.0, 0.25, 0.5, 0.75, 1.0})
      if (std::abs(k - spec.blend) > 0.1) c.add("wrong-law", "a blend of " + num(k, 2), [&](MixerSpec& s) { s.blend = k; });
  if (spec.pivot_scale != 1) c.add("wrong-law", "no pivot scale", [](MixerSpec& s) { s.pivot_scale = 1; });
  if (spec.speed_scale != 0) c.add("wrong-law", "steering not scaled with speed", [](MixerSpec& s) { s.speed_scale = 0; });
  if (spec.law == Law::inner_wheel)
    c.add("wrong-law", "an inner wheel that jumps to its pivot", [](MixerSpec& s) { s.wheel_limit = s.wheel_limit > 0 ? 0 : 0.25; });
  if (spec.law == Law::curvature && spec.quick_turn > 0) c.add("wrong-law", "no quick turn", [](MixerSpec& s) { s.quick_turn = 0; });
}

void add_signs(const MixerSpec& spec, Collection& c) {
  using mixer::ReverseSteering;
  const bool car = spec.reverse_steering == ReverseSteering::car;
  c.add("steering-flips", car ? "steering that keeps its sign in reverse" : "steering that changes its sign in reverse",
        [&](MixerSpec& s) { s.reverse_steering = car ? ReverseSteering::tank : ReverseSteering::car; });
  const char* swapped = "reversed-or-swapped";
  c.add(swapped, "a reversed throttle", [](MixerSpec& s) { s.throttle.reversed = !s.throttle.reversed; });
  c.add(swapped, "reversed steering", [](MixerSpec& s) { s.steering.reversed = !s.steering.reversed; });
  c.add(swapped, "a reversed left output", [](MixerSpec& s) { s.left.reversed = !s.left.reversed; });
  c.add(swapped, "a reversed right output", [](MixerSpec& s) { s.right.reversed = !s.right.reversed; });
  c.add(swapped, "left and right swapped", [](MixerSpec&) {});
  c.all().back().sides_swapped = true;
  c.add(swapped, "throttle and steering swapped", [](MixerSpec&) {});
  c.all().back().sticks_swapped = true;
}

template <class Change>
void for_sticks(MixerSpec& s, Change change) {
  change(s.throttle), change(s.steering);
}

void add_stick_shapes(const MixerSpec& spec, Collection& c) {
  c.add("no-dead-band", "no dead band", [](MixerSpec& s) { for_sticks(s, [](auto& in) { in.dead_band = DeadBandKind::none; }); });
  for (const auto& [kind, text] :
       {std::pair{DeadBandKind::jump, "a dead band that jumps"}, {DeadBandKind::continuous, "a continuous dead band"}})
    if (kind != spec.throttle.dead_band && spec.throttle.dead_band_half_us > 0)
      c.add("dead-band-kind", text, [&](MixerSpec& s) { for_sticks(s, [&](auto& in) { in.dead_band = kind; }); });
  for (const double factor : {0.5, 1.5, 2.0, 3.0})
    if (spec.throttle.dead_band_half_us > 0)
      c.add("dead-band-kind", "a dead band " + num(factor) + " times as wide",
            [&](MixerSpec& s) { for_sticks(s, [&](auto& in) { in.dead_band_half_us *= factor; }); });
  if (spec.throttle.expo > 0 || spec.steering.expo > 0 || spec.throttle.square || spec.steering.square)
    c.add("no-expo", "no expo", [](MixerSpec& s) { for_sticks(s, [](auto& in) { in.expo = 0, in.square = false; }); });
}

void add_ends(const MixerSpec& spec, Collection& c) {
  for (const double us : {-160.0, -130.0, -100.0, -80.0, -60.0, -40.0, 40.0, 60.0, 80.0, 100.0, 130.0, 160.0})
    for (const int which : {3, 1, 2})
      c.add("endpoint-mismatch",
            std::string(which == 3   ? "both sticks' ends"
                        : which == 1 ? "the throttle's ends"
                                     : "the steering's ends") +
                " taken " + num(std::abs(us), 0) + " us too far " + (us > 0 ? "out" : "in"),
            [&](MixerSpec& s) {
              if (which & 1) s.throttle.low_us -= us, s.throttle.high_us += us;
              if (which & 2) s.steering.low_us -= us, s.steering.high_us += us;
            });
  for (const bool left : {true, false})
    for (const bool high : {true, false})
      for (const double us : {-150.0, -100.0, -75.0, -50.0, -30.0, -20.0, 20.0, 30.0, 50.0, 75.0, 100.0, 150.0})
        c.add("endpoint-mismatch",
              std::string(left ? "the left" : "the right") + " output's " + (high ? "long" : "short") + " end " + num(us, 0) + " us off",
              [&](MixerSpec& s) {
                auto& out = left ? s.left : s.right;
                if (high)
                  out.high_us += us, out.clamp_high_us += us;
                else
                  out.low_us += us, out.clamp_low_us += us;
              });
  for (const double limit : {0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0})
    if (std::abs(limit - spec.left.reverse_limit) > 0.05 || std::abs(limit - spec.right.reverse_limit) > 0.05)
      c.add("reverse-limit", "a reverse limit of " + num(limit),
            [&](MixerSpec& s) { s.left.reverse_limit = s.right.reverse_limit = limit; });
  for (const bool left : {true, false})
    for (const double gain : {0.7, 0.75, 0.8, 0.85, 0.9, 0.93, 0.95, 0.96, 0.97, 1.03, 1.04, 1.05, 1.07, 1.1, 1.15, 1.2, 1.3})
      c.add("side-gain", std::string(left ? "the left" : "the right") + " side at " + num(100 * gain, 0) + " % of its strength",
            [&](MixerSpec& s) {
              auto& out = left ? s.left : s.right;
              out.low_us = out.neutral_us - gain * (out.neutral_us - out.low_us);
              out.high_us = out.neutral_us + gain * (out.high_us - out.neutral_us);
            });
}

}  // namespace

std::vector<Departure> departures(const MixerSpec& spec) {
  Collection c(spec);
  if (spec.law != Law::matrix && spec.law != Law::table) add_laws(spec, c);
  add_signs(spec, c);
  add_stick_shapes(spec, c);
  add_ends(spec, c);
  return c.take();
}

}  // namespace midstick::judge
