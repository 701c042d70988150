#include "daemon/judge/random_script.hpp"

#include <algorithm>

#include "daemon/judge/sticks.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

using script::ActionKind;
using script::Fault;
using script::Move;

constexpr double kSpareMs = 300;        // beyond what the spec asks for, so that it can be seen
constexpr double kRuntLeastUs = 21;     // shortest level that the bench can send, on a board whose clock is slow as well
constexpr double kBeyondUs = 100;       // outside the reject window by this, or half of it
constexpr std::int64_t kRestInTen = 5;  // so many faults of ten are followed by a rest at neutral

enum class Trouble { gap, all, throttle, steering, stuck_high, stuck_low, one_stuck_high, wild, implausible, runt, notch, reset, power };
constexpr Trouble kTroubles[] = {Trouble::gap,         Trouble::all,       Trouble::throttle,       Trouble::steering,
                                 Trouble::stuck_high,  Trouble::stuck_low, Trouble::one_stuck_high, Trouble::wild,
                                 Trouble::implausible, Trouble::runt,      Trouble::notch,          Trouble::reset,
                                 Trouble::power};

class Maker {
 public:
  Maker(const script::Plan& plan, std::uint64_t seed) : plan_(plan), spec_(plan.spec), draw_(seed) {
    frame_ms_ = (plan.frame.period_us + plan.frame.dither_us) / 1e3;
    // Where tracks rest before they turn round, only sticks that rest for longer say for certain what must come out.
    if (plan.spec.turn_rest_ms > 0) turning_ms_ = 1.1e3 * mixer::longest_slew_seconds(plan.spec);
  }

  std::vector<Move> moves(double for_ms, bool faults) {
    double now = 0;
    std::size_t counted = 0;
    while (now < for_ms) {
      faults&& draw_.within(0, 9) < 4 ? trouble() : drive();
      for (; counted < moves_.size(); ++counted) now += length_ms(moves_[counted]);
    }
    rest(spec_.arm.neutral_ms + kArmMarginMs);
    return std::move(moves_);
  }

 private:
  double ms(std::int64_t low, std::int64_t high) { return static_cast<double>(draw_.within(low / 20, high / 20)) * 20; }

  /// Corners and ends as often as anything between.
  double stick() {
    static constexpr double ends[] = {-100, -50, 0, 50, 100};
    if (draw_.within(0, 1) == 0) return ends[draw_.within(0, 4)];
    return static_cast<double>(draw_.within(-100, 100));
  }
  std::map<std::string, double> position() {
    throttle_ = stick(), steering_ = stick();
    return here();
  }
  std::map<std::string, double> here() const {
    return {{spec_.throttle.name, script::width_of_percent(spec_.throttle, throttle_)},
            {spec_.steering.name, script::width_of_percent(spec_.steering, steering_)}};
  }
  Move& hold(double for_ms) {
    Move move;
    move.from = here();
    move.for_ms = whole_frames_ms(plan_, std::max(for_ms, frame_ms_));
    moves_.push_back(std::move(move));
    return moves_.back();
  }

  void rest(double for_ms) {
    throttle_ = steering_ = 0;
    hold(for_ms);
  }

  void drive() {
    Move move;
    move.for_ms = whole_frames_ms(plan_, ms(300, 900) + turning_ms_);
    switch (draw_.within(0, 4)) {
      case 0:
        move.kind = Move::Kind::ramp;
        move.from = here(), move.to = position();
        break;
      case 1:
        move.kind = Move::Kind::sine;
        throttle_ = static_cast<double>(draw_.within(-50, 50)), steering_ = static_cast<double>(draw_.within(-50, 50));
        move.from = here();
        move.amplitude_us[draw_.within(0, 1) == 0 ? spec_.throttle.name : spec_.steering.name] = static_cast<double>(draw_.within(50, 240));
        move.period_ms = ms(200, 1500);
        break;
      case 2:
        move.kind = Move::Kind::points;
        move.point_ms = whole_frames_ms(plan_, ms(80, 240));
        for (auto n = draw_.within(2, 4); n > 0; --n) move.points.push_back(position());
        move.for_ms = move.point_ms * static_cast<double>(move.points.size());
        break;
      case 3:  // near neutral, where dead bands end
        throttle_ = static_cast<double>(draw_.within(-8, 8)), steering_ = static_cast<double>(draw_.within(-8, 8));
        move.from = here();
        break;
      default:
        move.from = position();
    }
    moves_.push_back(std::move(move));
  }

  Trouble next_trouble() {
    if (deck_.empty()) {
      deck_.assign(std::begin(kTroubles), std::end(kTroubles));
      for (std::size_t i = deck_.size(); i > 1; --i)
        std::swap(deck_[i - 1], deck_[static_cast<std::size_t>(draw_.within(0, static_cast<std::int64_t>(i) - 1))]);
    }
    const Trouble t = deck_.back();
    deck_.pop_back();
    return t;
  }

  /// Driven for certain when it begins, or it would show nothing.
  void position_driven() {
    do position();
    while (std::abs(throttle_) < 30);
  }

  void faulty(double for_ms, Fault throttle, Fault steering) {
    Move& move = hold(for_ms);
    if (throttle != Fault::none) move.faults.push_back(fault_of(spec_.throttle, throttle));
    if (steering != Fault::none) move.faults.push_back(fault_of(spec_.steering, steering));
  }

  void trouble() {
    const double lost_ms = spec_.loss.safe_within_ms + kSpareMs;
    const Trouble what = next_trouble();
    position_driven();
    hold(ms(200, 400));
    switch (what) {
      case Trouble::gap:
        if (spec_.loss.tolerate_frames > 0)
          faulty(static_cast<double>(draw_.within(1, spec_.loss.tolerate_frames)) * plan_.frame.period_us / 1e3, Fault::drop, Fault::drop);
        break;
      case Trouble::all:
        faulty(lost_ms, Fault::drop, Fault::drop);
        break;
      case Trouble::throttle:
        faulty(lost_ms, Fault::drop, Fault::none);
        break;
      case Trouble::steering:
        faulty(lost_ms, Fault::none, Fault::drop);
        break;
      case Trouble::stuck_high:
        faulty(lost_ms, Fault::stuck_high, Fault::stuck_high);
        break;
      case Trouble::stuck_low:
        faulty(lost_ms, Fault::stuck_low, Fault::stuck_low);
        break;
      case Trouble::one_stuck_high:
        draw_.within(0, 1) == 0 ? faulty(lost_ms, Fault::stuck_high, Fault::none) : faulty(lost_ms, Fault::none, Fault::stuck_high);
        break;
      case Trouble::wild:
        wild();
        break;
      case Trouble::implausible:
        implausible();
        break;
      case Trouble::runt:
        runt();
        break;
      case Trouble::notch:
        faulty(ms(100, 400), Fault::notch, Fault::none);
        moves_.back().faults[0].at_us = static_cast<double>(draw_.within(300, 700));
        moves_.back().faults[0].width_us = static_cast<double>(draw_.within(21, 60));
        break;
      case Trouble::reset:
        hold(frame_ms_).actions = {ActionKind::reset};
        return settle(spec_.arm.boot_ms);
      case Trouble::power:
        hold(500).actions = {ActionKind::power_off};
        hold(frame_ms_).actions = {ActionKind::power_on};
        return settle(spec_.arm.boot_ms);
    }
    settle(0);
  }

  /// Often a rest at neutral; else the sticks go on, and a controller that must wait for the rest has to.
  void settle(double boot_ms) {
    if (draw_.within(0, 9) >= kRestInTen) hold(boot_ms + ms(300, 500));
    rest(boot_ms + spec_.arm.neutral_ms + kArmMarginMs + 2 * frame_ms_);
  }

  void wild() {
    const double throttle = throttle_, steering = steering_;
    throttle_ = -throttle, steering_ = -steering;
    hold(frame_ms_);
    throttle_ = throttle, steering_ = steering;
    hold(ms(100, 300));
  }

  void implausible() {
    const auto& r = spec_.receiver;
    const double off = kBeyondUs / static_cast<double>(draw_.within(1, 2));
    const double us = draw_.within(0, 1) == 0 ? std::max(r.runt_us + kBeyondUs, r.reject_low_us - off) : r.reject_high_us + off;
    const std::string& input = draw_.within(0, 1) == 0 ? spec_.throttle.name : spec_.steering.name;
    hold(static_cast<double>(draw_.within(1, 5)) * plan_.frame.period_us / 1e3).from[input] = us;
    hold(ms(100, 300));
  }

  void runt() {
    const double most = std::max(kRuntLeastUs, spec_.receiver.runt_us - 50);
    Move& move = hold(ms(100, 500));
    for (const mixer::InputSpec* in : {&spec_.throttle, &spec_.steering}) {
      if (draw_.within(0, 2) == 0) continue;
      auto f = fault_of(*in, Fault::runt);
      f.at_us = static_cast<double>(draw_.within(3200, std::max<std::int64_t>(3200, static_cast<std::int64_t>(plan_.frame.period_us / 2))));
      f.width_us = static_cast<double>(draw_.within(static_cast<std::int64_t>(kRuntLeastUs), static_cast<std::int64_t>(most)));
      move.faults.push_back(f);
    }
  }

  const script::Plan& plan_;
  const mixer::MixerSpec& spec_;
  script::Draw draw_;
  std::vector<Move> moves_;
  double frame_ms_, turning_ms_{0}, throttle_{0}, steering_{0};
  std::vector<Trouble> deck_;
};

}  // namespace

std::vector<script::Move> random_moves(const script::Plan& plan, double for_ms, std::uint64_t seed, bool faults) {
  return Maker(plan, seed).moves(for_ms, faults);
}

double length_ms(const script::Move& m) {
  return m.kind == Move::Kind::points ? m.point_ms * static_cast<double>(m.points.size()) : m.for_ms;
}

}  // namespace midstick::judge
