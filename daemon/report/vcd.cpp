#include "daemon/report/vcd.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <set>
#include <vector>

#include "daemon/report/lines.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

struct Wire {
  std::string name;
  const char* scope;
  char initial{'0'};  ///< level before the first edge: 0, 1 or x
  bool level{false};  ///< while reading: level after the last edge
  bool started{false};
  std::int64_t last{0};  ///< step of the last change
  bool present{false};   ///< named by the controller, or has an edge
};

struct Change {
  std::int64_t step;
  std::uint8_t wire;
  bool level;
};

struct Dump {
  std::vector<Wire> wires;
  std::vector<Change> changes;
  std::int64_t end{1};
  std::int64_t moved{0}, repeated{0};
};

constexpr std::size_t kStimulus = 6;
constexpr std::size_t kResponse = 8;
constexpr std::size_t kPower = kStimulus + kResponse;
constexpr std::size_t kReset = kPower + 1;
constexpr std::size_t kStopLoop = kReset + 1;
constexpr std::size_t kWires = kStopLoop + 1;

/// A legal, unique simple identifier (clause 3.7.1: letters, digits, underscore; no digit first).
std::string identifier(const std::string& text, std::set<std::string>& taken) {
  std::string id;
  for (const char c : text) {
    const bool legal = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
    id += legal ? c : '_';
  }
  if (id.empty() || (id[0] >= '0' && id[0] <= '9')) id.insert(0, "_");
  std::string unique = id;
  for (int n = 2; !taken.insert(unique).second; ++n) unique = fmt::format("{}_{}", id, n);
  return unique;
}

/// Comment text: printable ASCII without '$', which could end the comment.
std::string harmless(std::string_view text) {
  auto out = ascii(visible(text, false));
  std::replace(out.begin(), out.end(), '$', '_');
  return out;
}

std::vector<Wire> wires_of(const script::ControllerDescription& controller) {
  std::vector<Wire> wires(kWires);
  std::set<std::string> taken;
  for (std::size_t i = 0; i < kStimulus + kResponse; ++i) {
    const bool stimulus = i < kStimulus;
    const auto line = static_cast<std::uint8_t>(stimulus ? i : i - kStimulus);
    wires[i].scope = stimulus ? "stimulus" : "response";
    wires[i].name = identifier(stimulus ? stimulus_name(controller, line) : response_name(controller, line), taken);
    wires[i].initial = stimulus ? '0' : 'x';  // the board's outputs start low; an input is unknown until it moves
  }
  constexpr std::array<const char*, 3> kBench{"controller_power", "controller_reset", "stop_loop_closed"};
  for (std::size_t i = kPower; i < kWires; ++i) {
    wires[i].scope = "bench";
    wires[i].name = identifier(kBench[i - kPower], taken);
  }
  for (const auto& pin : controller.inputs)
    if (pin.line_no < kStimulus) wires[pin.line_no].present = true;
  for (const auto& pin : controller.outputs)
    if (pin.line_no < kResponse) wires[kStimulus + pin.line_no].present = true;
  return wires;
}

class Reader {
 public:
  Reader(const capture::Capture& capture, Dump& dump) : capture_(capture), dump_(dump) {}

  void read(BoardTime at, std::size_t index, bool level) {
    auto& wire = dump_.wires[index];
    if (wire.started && wire.level == level) {
      ++dump_.repeated;
      return;
    }
    if (!wire.started) wire.initial = level ? '0' : '1';
    wire.started = wire.present = true;
    wire.level = level;
    const auto exact = step(at);
    const auto shown = std::max(exact, wire.last + 1);
    dump_.moved += shown != exact;
    wire.last = shown;
    dump_.changes.push_back({shown, static_cast<std::uint8_t>(index), level});
    dump_.end = std::max(dump_.end, shown + 1);
  }

  std::int64_t step(BoardTime at) const {
    return std::llround(static_cast<double>((at - capture_.begin).count) * capture_.clock.ns_per_tick / kVcdStepNs);
  }

 private:
  const capture::Capture& capture_;
  Dump& dump_;
};

void read_event(Reader& reader, const capture::Event& event) {
  switch (event.kind) {
    case capture::EventKind::power_on:
      return reader.read(event.at, kPower, true);
    case capture::EventKind::power_off:
      return reader.read(event.at, kPower, false);
    case capture::EventKind::reset_asserted:
      return reader.read(event.at, kReset, true);
    case capture::EventKind::reset_released:
      return reader.read(event.at, kReset, false);
    case capture::EventKind::stop_loop_closed:
      return reader.read(event.at, kStopLoop, true);
    case capture::EventKind::stop_loop_open:
      return reader.read(event.at, kStopLoop, false);
    default:
      return;
  }
}

/// Each stretch is in order already but for edges that were moved, so this is a merge rather than a sort.
void merge_stretches(std::vector<Change>& changes, const std::vector<std::size_t>& ends) {
  const auto earlier = [](const Change& a, const Change& b) { return a.step < b.step; };
  const auto place = [&](std::size_t i) { return changes.begin() + static_cast<std::ptrdiff_t>(i); };
  std::size_t from = 0;
  for (const auto to : ends) {
    if (!std::is_sorted(place(from), place(to), earlier)) std::stable_sort(place(from), place(to), earlier);
    std::inplace_merge(changes.begin(), place(from), place(to), earlier);
    from = to;
  }
}

Dump read_all(const capture::Capture& capture, const script::ControllerDescription& controller) {
  Dump dump;
  dump.wires = wires_of(controller);
  dump.changes.reserve(capture.stimulus.size() + capture.response.size() + 64);
  Reader reader(capture, dump);
  std::vector<std::size_t> ends;
  for (const auto& e : capture.stimulus)
    if (e.line < kStimulus) reader.read(e.at, e.line, e.level);
  ends.push_back(dump.changes.size());
  for (const auto& e : capture.response)
    if (e.line < kResponse) reader.read(e.at, kStimulus + e.line, e.level);
  ends.push_back(dump.changes.size());
  for (const auto& e : capture.events) read_event(reader, e);
  ends.push_back(dump.changes.size());
  dump.end = std::max(dump.end, reader.step(capture.end));
  merge_stretches(dump.changes, ends);
  return dump;
}

char code(std::size_t wire) { return static_cast<char>('!' + wire); }

void write_scope(std::string& out, const Dump& dump, std::string_view scope) {
  std::string vars;
  for (std::size_t i = 0; i < dump.wires.size(); ++i)
    if (dump.wires[i].present && dump.wires[i].scope == scope) vars += fmt::format("$var wire 1 {} {} $end\n", code(i), dump.wires[i].name);
  if (!vars.empty()) out += fmt::format("$scope module {} $end\n{}$upscope $end\n", scope, vars);
}

std::string header(const Dump& dump, const capture::Capture& capture, std::string_view plan, std::string_view started) {
  const auto& id = capture.identity;
  std::string out = fmt::format("$date {} $end\n$version midstick $end\n", harmless(started));
  out += fmt::format("$comment plan: {}; bench: {}, firmware {}, wire {}; controller: {}, image {} $end\n", harmless(plan),
                     harmless(id.board), harmless(id.firmware), harmless(id.schema_hash), harmless(id.controller),
                     id.controller_image.empty() ? "unknown" : harmless(id.controller_image));
  out += fmt::format(
      "$comment time 0 is board tick {}; one step is {} ns of true time, rounded to the nearest: board clock {:+.3f} ppm +- {:.3f} $end\n",
      capture.begin.count, kVcdStepNs, capture.clock.ppm(), capture.clock.uncertainty_ppm);
  out += fmt::format("$comment a pulse shorter than one step is drawn one step wide so that it stays visible: {} edges moved $end\n",
                     dump.moved);
  if (dump.repeated > 0)
    out += fmt::format("$comment {} edges repeated the level their line already had, so an edge between them is missing; left out $end\n",
                       dump.repeated);
  if (!capture.complete) out += fmt::format("$comment the run is incomplete: {} $end\n", harmless(capture.incomplete_reason));
  return out + fmt::format("$timescale {} ns $end\n", kVcdStepNs);
}

}  // namespace

std::string capture_vcd(const capture::Capture& capture, const script::ControllerDescription& controller, std::string_view plan,
                        std::string_view started) {
  const auto dump = read_all(capture, controller);
  std::string out = header(dump, capture, plan, started);
  for (const char* scope : {"stimulus", "response", "bench"}) write_scope(out, dump, scope);
  out += "$enddefinitions $end\n#0\n$dumpvars\n";
  for (std::size_t i = 0; i < dump.wires.size(); ++i) {
    if (!dump.wires[i].present) continue;
    out += {dump.wires[i].initial, code(i), '\n'};
  }
  out += "$end\n";
  out.reserve(out.size() + dump.changes.size() * 16);
  std::int64_t now = 0;
  for (const auto& change : dump.changes) {
    if (change.step != now) {
      now = change.step;
      const fmt::format_int digits(now);
      out += '#';
      out.append(digits.data(), digits.size());
      out += '\n';
    }
    out += {change.level ? '1' : '0', code(change.wire), '\n'};
  }
  return out + fmt::format("#{}\n", dump.end);
}

}  // namespace midstick::report
