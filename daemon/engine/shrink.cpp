#include "daemon/engine/shrink.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include "daemon/judge/random_script.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/script/write_sticks.hpp"

namespace midstick::engine {
namespace {

using script::Move;
using script::StickScript;

constexpr double kAfterFailingMs = 300;    // kept after the first failing instant
constexpr std::size_t kMostLastMoves = 5;  // tried alone before anything else
constexpr double kRoundMs[] = {100, 200, 300, 500, 800, 1000, 1500};

class Shrinker {
 public:
  Shrinker(const ShrinkRequest& request, const Fails& fails, const std::function<void(const ShrinkProgress&)>& on_progress)
      : spec_(request.spec), most_(request.most_runs), fails_(fails), on_progress_(on_progress), best_(request.failing) {
    tried_.insert(key(best_));
  }

  Result<Shrunk> run(double fails_at_ms) {
    cut_after(fails_at_ms);
    last_moves_alone();
    for (bool better = true; better && open();) {
      better = leave_out();
      for (std::size_t i = best_.moves.size(); i-- > 0 && open();) better = simplify(i) || better;
    }
    Shrunk out{best_, runs_, runs_ >= most_, true};
    for (int again = 0; again < 2 && !error_ && out.reproduced; ++again) out.reproduced = ask(best_);
    if (error_) return *error_;
    out.runs = runs_;
    return out;
  }

 private:
  bool open() const { return !error_ && runs_ < most_; }

  static std::string key(StickScript s) {
    s.name.clear();
    return script::sticks_text(s, {});
  }

  bool ask(const StickScript& script) {
    ++runs_;
    const auto answer = fails_(script);
    if (!answer) error_ = answer.error();
    double ms = 0;
    if (answer && *answer) best_ = script;
    for (const Move& m : best_.moves) ms += judge::length_ms(m);
    if (on_progress_) on_progress_({runs_, most_, best_.moves.size(), ms});
    return answer && *answer;
  }

  /// Keeps the candidate when it fails as well.
  bool keeps_failing(std::vector<Move> moves) {
    StickScript candidate = best_;
    candidate.moves = std::move(moves);
    if (!open() || candidate.moves.empty() || !tried_.insert(key(candidate)).second) return false;
    return ask(candidate);
  }
  bool keeps_failing(std::size_t i, const Move& changed) {
    auto moves = best_.moves;
    moves[i] = changed;
    return keeps_failing(std::move(moves));
  }

  void cut_after(double fails_at_ms) {
    if (fails_at_ms < 0) return;
    const double end = fails_at_ms + kAfterFailingMs;
    std::vector<Move> kept;
    double now = 0;
    for (const Move& m : best_.moves) {
      if (now >= end) break;
      kept.push_back(m);
      now += judge::length_ms(m);
    }
    keeps_failing(std::move(kept));
  }

  void last_moves_alone() {
    const auto all = best_.moves;
    for (std::size_t n = 1; n <= std::min(kMostLastMoves, all.size() - 1); ++n)
      if (keeps_failing({all.end() - static_cast<std::ptrdiff_t>(n), all.end()})) return;
  }

  /// Halves, quarters, ... single moves.
  bool leave_out() {
    bool better = false;
    for (std::size_t chunk = std::max<std::size_t>(1, best_.moves.size() / 2);; chunk = std::max<std::size_t>(1, chunk / 2)) {
      for (std::size_t at = 0; at < best_.moves.size() && best_.moves.size() > 1 && open();) {
        auto moves = best_.moves;
        const auto begin = moves.begin() + static_cast<std::ptrdiff_t>(at);
        moves.erase(begin, moves.begin() + static_cast<std::ptrdiff_t>(std::min(at + chunk, moves.size())));
        if (keeps_failing(std::move(moves)))
          better = true;
        else
          at += chunk;
      }
      if (chunk == 1) return better;
    }
  }

  bool simplify(std::size_t i) {
    bool better = drop_extras(i);
    better = plain_kind(i) || better;
    better = round_sticks(i) || better;
    return round_time(i) || better;
  }

  bool drop_extras(std::size_t i) {
    bool better = false;
    Move plain = best_.moves[i];
    plain.faults.clear(), plain.actions.clear(), plain.frame.reset(), plain.mark.clear(), plain.action_within_ms = 0;
    if (keeps_failing(i, plain)) return true;
    for (std::size_t f = best_.moves[i].faults.size(); f-- > 0;) {
      Move m = best_.moves[i];
      m.faults.erase(m.faults.begin() + static_cast<std::ptrdiff_t>(f));
      better = keeps_failing(i, m) || better;
    }
    if (!best_.moves[i].faults.empty() && !best_.moves[i].actions.empty()) {
      Move m = best_.moves[i];
      m.actions.clear();
      better = keeps_failing(i, m) || better;
    }
    return better;
  }

  static Move held(const Move& m, std::map<std::string, double> at, double for_ms) {
    Move out;
    out.from = std::move(at), out.for_ms = for_ms;
    out.faults = m.faults, out.actions = m.actions, out.frame = m.frame;
    return out;
  }

  /// A hold at one of the places that the move goes through.
  bool plain_kind(std::size_t i) {
    const Move m = best_.moves[i];
    const double ms = judge::length_ms(m);
    std::vector<std::map<std::string, double>> places;
    if (m.kind == Move::Kind::ramp) places = {m.to, m.from};
    if (m.kind == Move::Kind::points) places.assign(m.points.rbegin(), m.points.rend());
    if (m.kind == Move::Kind::sine)
      for (const double sign : {1.0, -1.0, 0.0}) {
        auto at = m.from;
        for (const auto& [input, us] : m.amplitude_us) at[input] += sign * us;
        places.push_back(std::move(at));
      }
    for (auto& at : places)
      if (keeps_failing(i, held(m, std::move(at), ms))) return true;
    if (m.kind != Move::Kind::points || m.points.size() < 2) return false;
    bool better = false;
    for (std::size_t p = m.points.size(); p-- > 0 && best_.moves[i].points.size() > 1;) {
      Move fewer = best_.moves[i];
      fewer.points.erase(fewer.points.begin() + static_cast<std::ptrdiff_t>(p));
      fewer.for_ms = judge::length_ms(fewer);
      better = keeps_failing(i, fewer) || better;
    }
    return better;
  }

  /// Sticks at 0, else at 100 or 50 percent on their side. All at 0 first.
  bool round_sticks(std::size_t i) {
    if (best_.moves[i].kind != Move::Kind::hold) return false;
    Move rest = best_.moves[i];
    for (auto& [input, us] : rest.from) us = script::width_of_percent(spec_, input, 0);
    if (keeps_failing(i, rest)) return true;
    bool better = false;
    const auto widths = best_.moves[i].from;
    for (const auto& [input, us] : widths) {
      const double percent = script::percent_of_width(spec_, input, us), side = percent < 0 ? -1 : 1;
      if (percent == 0) continue;
      for (const double round : {0.0, 100 * side, 50 * side}) {
        if (round == percent) break;
        Move m = best_.moves[i];
        m.from[input] = script::width_of_percent(spec_, input, round);
        if (!keeps_failing(i, m)) continue;
        better = true;
        break;
      }
    }
    return better;
  }

  bool round_time(std::size_t i) {
    const Move m = best_.moves[i];
    double& (*const length)(Move&) = [](Move& x) -> double& { return x.kind == Move::Kind::points ? x.point_ms : x.for_ms; };
    for (const double ms : kRoundMs) {
      Move shorter = m;
      if (ms >= length(shorter)) return false;
      length(shorter) = ms;
      if (shorter.kind == Move::Kind::points) shorter.for_ms = judge::length_ms(shorter);
      if (keeps_failing(i, shorter)) return true;
    }
    return false;
  }

  const mixer::MixerSpec spec_;
  const int most_;
  const Fails& fails_;
  const std::function<void(const ShrinkProgress&)>& on_progress_;
  StickScript best_;
  std::set<std::string> tried_;
  int runs_{0};
  std::optional<Error> error_;
};

}  // namespace

Result<Shrunk> shrink(const ShrinkRequest& request, const Fails& fails, const std::function<void(const ShrinkProgress&)>& on_progress) {
  return Shrinker(request, fails, on_progress).run(request.fails_at_ms);
}

}  // namespace midstick::engine
