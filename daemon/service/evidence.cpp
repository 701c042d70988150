#include "daemon/service/evidence.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <span>
#include <vector>

#include "daemon/judge/envelope.hpp"
#include "daemon/judge/esc_log.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/script/load.hpp"
#include "daemon/store/run_folder.hpp"

namespace midstick::service {
namespace {

using capture::Capture;
using judge::Pulse;
using nlohmann::json;

constexpr double kLongestBandMs = 20'000;  ///< what is allowed is worked out for a slice up to this long: it costs more than pulses
constexpr double kInputUs = 4;             ///< what a controller may misread an input by, as the checks' default input_us

constexpr double kSilentMs = 100;  ///< a gap this long is told as silence: some signal is missing at any frame rate of the trade

/// How far beyond the band a check lets a width be; nothing for a check that judges no widths by the spec (times, steps, rhythms).
std::optional<double> tolerance_us(const script::PlannedCheck& check) {
  // By the spec's own safe widths, which are in the band.
  if (check.kind == "signal-loss") return 0;
  static const std::set<std::string> by_width{"neutral",       "static-mix", "mid-pulse", "torn-value",
                                              "random-sticks", "receiver",   "host-port", "soak"};
  if (!by_width.contains(check.kind)) return {};
  // Where single pulses have a wider bound than their mean, the wider: no pulse that the check lets pass may look wrong.
  return std::max(judge::param_or(check, "tolerance_us", 0), judge::param_or(check, "width_noise_us", 0));
}

double rounded(double value, double step) { return std::round(value / step) * step; }

class Slicer {
 public:
  Slicer(const StoredEvidence& evidence, Slice slice)
      : plan_(evidence.plan), capture_(evidence.capture), slice_(slice), total_ms_(ms_of(capture_.end)) {
    slice_.to_ms = std::min(slice_.to_ms, total_ms_);
    slice_.from_ms = std::min(slice_.from_ms, slice_.to_ms);
    begin_ = board(slice_.from_ms), end_ = board(slice_.to_ms);
  }

  json answer(std::int64_t run) {
    json out{{"run", run}, {"from_ms", slice_.from_ms}, {"to_ms", slice_.to_ms}, {"total_ms", total_ms_}};
    out["lines"] = json::array();
    for (const auto& pin : plan_.controller.inputs) out["lines"].push_back(line(pin, "stick", capture_.stimulus));
    for (const auto& pin : plan_.controller.outputs) out["lines"].push_back(line(pin, "output", capture_.response));
    out["segments"] = segments();
    out["expected"] = expected();
    out["esc"] = esc_lanes();
    return out;
  }

 private:
  double ms_of(BoardTime t) const { return capture_.clock.us(t - capture_.begin) / 1e3; }
  BoardTime board(double ms) const { return capture_.begin + capture_.clock.ticks({static_cast<std::int64_t>(ms * 1e6)}); }

  json pair(const Pulse& p) const { return {rounded(ms_of(p.rise), 0.001), rounded(capture_.clock.us(p.width()), 0.01)}; }

  json line(const script::ControllerPin& pin, const char* side, const std::vector<capture::Edge>& edges) const {
    const judge::PulseTrain train(edges, pin.line_no, capture_.begin, capture_.end);
    const auto pulses = train.within(begin_, end_);
    json list = json::array(), silent = silences(pulses);
    const bool thinned = static_cast<int>(pulses.size()) > slice_.points;
    if (!thinned)
      for (const Pulse& p : pulses) list.push_back(pair(p));
    else
      thin(pulses, list);
    return {{"name", pin.name}, {"side", side}, {"thinned", thinned}, {"pulses", std::move(list)}, {"silent", std::move(silent)}};
  }

  /// Of each stretch the narrowest and the widest, so that an outlier is never lost from sight.
  void thin(std::span<const Pulse> pulses, json& list) const {
    const std::size_t stretches = static_cast<std::size_t>(std::max(1, slice_.points / 2));
    for (std::size_t i = 0; i < stretches; ++i) {
      const auto from = pulses.begin() + static_cast<std::ptrdiff_t>(pulses.size() * i / stretches);
      const auto to = pulses.begin() + static_cast<std::ptrdiff_t>(pulses.size() * (i + 1) / stretches);
      if (from == to) continue;
      const auto [low, high] = std::minmax_element(from, to, [](const Pulse& a, const Pulse& b) { return a.width() < b.width(); });
      const auto [first, second] = std::minmax(low, high);
      list.push_back(pair(*first));
      if (first != second) list.push_back(pair(*second));
    }
  }

  /// Known only before thinning, which leaves gaps of its own. Of too many the longest.
  json silences(std::span<const Pulse> pulses) const {
    std::vector<std::pair<double, double>> found;
    double last = slice_.from_ms;
    const auto until = [&](double ms) {
      if (ms - last > kSilentMs) found.emplace_back(last, ms);
      last = ms;
    };
    for (const Pulse& p : pulses) until(ms_of(p.rise));
    until(slice_.to_ms);
    if (const auto most = static_cast<std::size_t>(slice_.points); found.size() > most) {
      std::ranges::stable_sort(found, std::ranges::greater(), [](const auto& s) { return s.second - s.first; });
      found.resize(most);
      std::ranges::sort(found);
    }
    json out = json::array();
    for (const auto& [from, to] : found) out.push_back({rounded(from, 0.001), rounded(to, 0.001)});
    return out;
  }

  json segments() const {
    json out = json::array();
    for (const auto& s : capture_.segments) {
      if (s.end <= begin_ || s.begin >= end_) continue;
      const auto& check = plan_.checks[static_cast<std::size_t>(s.check)];
      const auto tolerance = tolerance_us(check);
      out.push_back({{"check", check.name},
                     {"from_ms", rounded(ms_of(s.begin), 0.001)},
                     {"to_ms", rounded(ms_of(s.end), 0.001)},
                     {"tolerance_us", tolerance ? json(*tolerance) : json()}});
    }
    return out;
  }

  json expected() const {
    json left = json::array(), right = json::array();
    const auto wiring = judge::wire(plan_);
    if (!wiring || slice_.to_ms - slice_.from_ms > kLongestBandMs) return json::array();
    for (const auto& s : capture_.segments) {
      if (s.end <= begin_ || s.begin >= end_) continue;
      const auto& check = plan_.checks[static_cast<std::size_t>(s.check)];
      const judge::Context context{plan_, check, capture_, {s}, 1};
      const judge::Traffic traffic(context, s, *wiring);
      const double frame_ms = (check.script ? check.script->frame : plan_.frame).period_us / 1e3;
      const judge::Envelope envelope(plan_, traffic, frame_ms, judge::param_or(check, "input_us", kInputUs));
      const double beyond = tolerance_us(check).value_or(0);
      add_band(traffic, envelope, beyond, judge::Side::left, left), add_band(traffic, envelope, beyond, judge::Side::right, right);
    }
    return {{{"name", plan_.spec.left.name}, {"band", left}}, {{"name", plan_.spec.right.name}, {"band", right}}};
  }

  void add_band(const judge::Traffic& traffic, const judge::Envelope& envelope, double beyond, judge::Side side, json& band) const {
    for (const Pulse& p : traffic.output(side).within(begin_, end_))
      if (const auto allowed = envelope.at(p)) {
        const auto hull = allowed->hull(side);
        band.push_back({rounded(ms_of(p.rise), 0.001), rounded(hull.low - beyond, 0.01), rounded(hull.high + beyond, 0.01)});
      }
  }

  /// The ESC gets its power with the controller, as on the machine.
  json esc_lanes() const {
    const auto wiring = judge::wire(plan_);
    const auto on = std::ranges::find(capture_.events, capture::EventKind::power_on, &capture::Event::kind);
    if (!wiring || on == capture_.events.end() || plan_.checks.empty()) return json::array();
    const capture::Segment whole{0, 0, capture_.begin, capture_.end, {}};
    const judge::Context context{plan_, plan_.checks[0], capture_, {whole}, 1};
    const judge::Traffic traffic(context, whole, *wiring);
    json out = json::array();
    for (const auto side : judge::kSides) {
      json states = json::array();
      for (const auto& s : judge::esc_states(plan_, traffic, side, on->at, capture_.end))
        if (s.end > begin_ && s.begin < end_) states.push_back({rounded(ms_of(std::max(s.begin, begin_)), 0.001), esc::name(s.state)});
      out.push_back({{"name", side == judge::Side::left ? plan_.spec.left.name : plan_.spec.right.name}, {"states", states}});
    }
    return out;
  }

  const script::Plan& plan_;
  const Capture& capture_;
  Slice slice_;
  double total_ms_;
  BoardTime begin_, end_;
};

}  // namespace

json pulses_answer(const StoredEvidence& evidence, std::int64_t run, Slice slice) { return Slicer(evidence, slice).answer(run); }

Result<std::shared_ptr<const StoredEvidence>> Evidence::of(const std::filesystem::path& folder) {
  {
    const std::lock_guard lock(mutex_);
    for (auto at = kept_.begin(); at != kept_.end(); ++at)
      if (at->first == folder) {
        kept_.splice(kept_.begin(), kept_, at);
        return kept_.front().second;
      }
  }
  auto stored = store::read_run(folder);
  if (!stored) return stored.error();
  auto plan = script::plan_from_document(json::parse(stored->plan, nullptr, false), (folder / "plan.json").string());
  if (!plan) return plan.error();
  auto evidence = std::make_shared<const StoredEvidence>(StoredEvidence{plan.take(), std::move(stored->capture)});
  const std::lock_guard lock(mutex_);
  kept_.emplace_front(folder, evidence);
  if (kept_.size() > kKept) kept_.pop_back();
  return evidence;
}

}  // namespace midstick::service
