#include "daemon/calibrate/study.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <optional>
#include <span>

#include "daemon/calibrate/budgets.hpp"
#include "daemon/capture/pin_change.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::calibrate {
namespace {

using capture::Capture;
using capture::Edge;

constexpr std::int64_t kNear = 200;      ///< ticks; edges of one line are 8000 apart at least
constexpr std::size_t kLeastLone = 400;  ///< so few make no distribution
constexpr double kMostPastBound = 0.01;  ///< share of lone stamps

Error unfit(std::string message) { return {ErrorKind::bench_unfit, std::move(message)}; }

const char* capture_name(std::size_t line) {
  static constexpr const char* kNames[] = {"R1", "R2", "P1", "P2", "P3", "P4", "P5", "P6"};
  return kNames[line];
}

std::vector<Edge> edges_of(const std::vector<Edge>& edges, std::uint8_t line) {
  std::vector<Edge> out;
  std::ranges::copy_if(edges, std::back_inserter(out), [line](const Edge& e) { return e.line == line; });
  return out;
}

/// How late the other line's edge of the same level is, in ticks; nothing when none is near.
std::optional<double> late_against(const Edge& reference, std::span<const Edge> others) {
  const auto from = std::ranges::lower_bound(others, reference.at - BoardSpan{kNear}, {}, &Edge::at);
  for (auto e = from; e != others.end() && e->at <= reference.at + BoardSpan{kNear}; ++e)
    if (e->level == reference.level) return static_cast<double>((e->at - reference.at).count);
  return std::nullopt;
}

/// How late edges read on one path, by their level.
struct Path {
  std::vector<double> rise, fall;
  std::vector<double> all() const {
    auto both = rise;
    both.insert(both.end(), fall.begin(), fall.end());
    return both;
  }
  void add(bool level, double late) { (level ? rise : fall).push_back(late); }
};

/// Loop of one stimulus line, on each capture line.
Result<std::vector<Path>> paths_of(const Capture& loop, std::uint8_t stimulus, std::size_t captures) {
  std::vector<Path> paths(captures);
  const auto sent = edges_of(loop.stimulus, stimulus);
  for (std::size_t line = 0; line < captures; ++line) {
    const auto seen = edges_of(loop.response, static_cast<std::uint8_t>(line));
    for (const Edge& e : sent)
      if (const auto late = late_against(e, seen)) paths[line].add(e.level, *late);
    const std::size_t arrived = paths[line].rise.size() + paths[line].fall.size();
    if (arrived != sent.size())
      return unfit("S" + std::to_string(stimulus + 1) + " to " + capture_name(line) + ": " + std::to_string(arrived) + " of " +
                   std::to_string(sent.size()) + " edges arrived; expected all: is the jumper in?");
  }
  return paths;
}

/// Lone pin changes of a source round against R1, by pin change line.
std::vector<Path> lone_paths(const Capture& source, const protocol::Hello& hello) {
  std::vector<Path> paths(hello.pin_change_lines);
  const BoardSpan reach = capture::kCrowdedWithin + BoardSpan{hello.pin_change_crowded};
  const auto reference = edges_of(source.response, 0);
  std::vector<std::vector<Edge>> lines;
  for (std::uint8_t line = 0; line < hello.pin_change_lines; ++line)
    lines.push_back(edges_of(source.response, static_cast<std::uint8_t>(hello.capture_lines + line)));
  for (const Edge& e : reference) {
    const auto before = std::ranges::lower_bound(source.stimulus, e.at - reach, {}, &Edge::at);
    if (before != source.stimulus.end() && before->at <= e.at + BoardSpan{kNear}) continue;  // crowded by a stimulus edge
    for (std::size_t line = 0; line < lines.size(); ++line)
      if (const auto late = late_against(e, lines[line])) paths[line].add(e.level, *late);
  }
  return paths;
}

class Studying {
 public:
  Studying(const Rounds& rounds, const protocol::Hello& hello)
      : rounds_(rounds), hello_(hello), captures_(hello.capture_lines + hello.pin_change_lines) {}

  Result<Study> run() {
    if (auto s = loops(); !s) return s.error();
    if (auto s = input_captures(); !s) return s.error();
    if (auto s = looped_pin_changes(); !s) return s.error();
    if (auto s = pin_changes(); !s) return s.error();
    const Capture& last = rounds_.source ? *rounds_.source : rounds_.loops.back();
    auto& c = out_.calibration;
    c.firmware = last.identity.firmware;
    c.schema_hash = last.identity.schema_hash;
    c.clock_ppm = last.clock.ppm();
    c.clock_uncertainty_ppm = last.clock.uncertainty_ppm;
    out_.budgets = budgets(c, last.clock);
    return std::move(out_);
  }

 private:
  Status loops() {
    if (rounds_.loops.empty() || captures_ > out_.calibration.response_late.size() || hello_.capture_lines < 1)
      return unfit("no loops were played, or the board has lines this program does not know");
    for (std::size_t s = 0; s < rounds_.loops.size(); ++s) {
      auto paths = paths_of(rounds_.loops[s], static_cast<std::uint8_t>(s), captures_);
      if (!paths) return paths.error();
      loops_.push_back(paths.take());
    }
    return Ok{};
  }

  /// Lateness of each input capture line, and how the stimulus lines differ.
  Status input_captures() {
    auto& c = out_.calibration;
    std::vector<statistics::Summary> by_line;
    for (std::size_t line = 0; line < hello_.capture_lines; ++line) {
      Path pooled;
      for (const auto& loop : loops_) {
        pooled.rise.insert(pooled.rise.end(), loop[line].rise.begin(), loop[line].rise.end());
        pooled.fall.insert(pooled.fall.end(), loop[line].fall.begin(), loop[line].fall.end());
      }
      const auto all = statistics::summarise(pooled.all());
      if (all.max - all.min > 2 * hello_.pin_change_half)
        return unfit(std::string(capture_name(line)) + ": looped edges read " + std::to_string(std::lround(all.min)) + " to " +
                     std::to_string(std::lround(all.max)) + " ticks late; input capture cannot scatter so: check jumpers and grounds");
      c.response_late[line] = all.mean;
      by_line.push_back(all);
      add_result(std::string("stamp of ") + capture_name(line) + ", late", all.mean, offset_budget(all));
      width_result(capture_name(line), pooled);
    }
    for (std::size_t s = 0; s < loops_.size(); ++s) {
      std::vector<double> off;
      for (std::size_t line = 0; line < hello_.capture_lines; ++line)
        for (const double late : loops_[s][line].all()) off.push_back(late - by_line[line].mean);
      const auto skew = statistics::summarise(off);
      c.stimulus_late[s] = skew.mean;
      add_result("S" + std::to_string(s + 1) + " against the mean of all S, late", skew.mean, offset_budget(skew));
    }
    return Ok{};
  }

  Status looped_pin_changes() {
    double low = 0, high = 0;
    for (const auto& loop : loops_)
      for (std::size_t line = hello_.capture_lines; line < captures_; ++line)
        for (const double late : loop[line].all()) low = std::min(low, late), high = std::max(high, late);
    char text[200];
    std::snprintf(
        text, sizeof text,
        "Pin changes crowded by their own stimulus edge read %+.2f to %+.2f us late; the board promises +-%.2f us, and that bound "
        "stays in use for crowded stamps.",
        low / kTicksPerUs, high / kTicksPerUs, double(hello_.pin_change_crowded) / kTicksPerUs);
    if (-low > hello_.pin_change_crowded || high > hello_.pin_change_crowded) return unfit(text);
    out_.notes.push_back(text);
    return Ok{};
  }

  Status pin_changes() {
    auto& c = out_.calibration;
    c.lone_half = hello_.pin_change_half;
    if (!rounds_.source) {
      out_.notes.push_back("No pulse source: pin change stamps (P1 to P6) keep the board's own bound, and read as the board gives them.");
      return Ok{};
    }
    std::map<int, std::int64_t> delays;
    std::int64_t n = 0, past = 0;
    const auto paths = lone_paths(*rounds_.source, hello_);
    for (std::size_t i = 0; i < paths.size(); ++i) {
      const std::size_t line = hello_.capture_lines + i;
      const auto late = statistics::summarise(paths[i].all());
      if (static_cast<std::size_t>(late.samples) < kLeastLone)
        return unfit(std::string(capture_name(line)) + ": only " + std::to_string(late.samples) +
                     " lone edges of the pulse source were seen; expected " + std::to_string(kLeastLone) +
                     " at least: is it joined and switched on?");
      const double mean = late.mean + c.response_late[0];
      c.response_late[line] = mean;
      add_result(std::string("stamp of ") + capture_name(line) + ", alone, late", mean, offset_budget(late));
      width_result(capture_name(line), paths[i]);
      if (i > 0) continue;  // one interrupt stamps them all: the other lines tell the same delays again
      for (const double d : paths[i].all()) {
        ++n, past += std::abs(d) > hello_.pin_change_half + 1;
        ++delays[static_cast<int>(std::lround(d) + std::lround(c.response_late[0]) - std::lround(mean))];
      }
    }
    if (static_cast<double>(past) > kMostPastBound * static_cast<double>(n))
      return unfit(std::to_string(past) + " of " + std::to_string(n) +
                   " lone pin change stamps are further off than the board promises: something holds its interrupts up");
    for (const auto& [ticks, count] : delays) c.pin_change.push_back({ticks, count});
    out_.notes.push_back(std::to_string(n) +
                         " lone pin change stamps were measured against R1 beside a board busy with all its stimulus lines.");
    return Ok{};
  }

  void add_result(std::string quantity, double ticks, const statistics::Budget& budget) {
    out_.results.push_back({std::move(quantity), ticks * kNsPerTick, budget.expanded, budget.rows.empty() ? 0 : samples_of(budget)});
  }
  static std::int64_t samples_of(const statistics::Budget& budget) { return std::llround(budget.rows.front().dof) + 1; }

  /// Falls later than rises make every width too long.
  void width_result(const char* line, const Path& path) {
    const auto rise = statistics::summarise(path.rise), fall = statistics::summarise(path.fall);
    const auto budget = difference_budget(rise, fall);
    out_.results.push_back({std::string("width on ") + line + ", too long", (fall.mean - rise.mean) * kNsPerTick, budget.expanded,
                            rise.samples + fall.samples});
  }

  const Rounds& rounds_;
  const protocol::Hello& hello_;
  std::size_t captures_;
  std::vector<std::vector<Path>> loops_;  ///< by stimulus line and capture line
  Study out_;
};

}  // namespace

Result<Study> study(const Rounds& rounds, const protocol::Hello& hello) { return Studying(rounds, hello).run(); }

}  // namespace midstick::calibrate
