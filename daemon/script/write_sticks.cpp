#include "daemon/script/write_sticks.hpp"

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/script/percent.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using Json = nlohmann::ordered_json;  // a move is told by its first key, for people too

const char* name_of(Fault fault) {
  switch (fault) {
    case Fault::drop:
      return "drop";
    case Fault::stuck_low:
      return "stuck_low";
    case Fault::stuck_high:
      return "stuck_high";
    case Fault::runt:
      return "runt";
    case Fault::notch:
      return "notch";
    case Fault::cut:
      return "cut";
    case Fault::storm:
      return "storm";
    case Fault::none:
      break;
  }
  return "";
}

const char* name_of(ActionKind kind) {
  switch (kind) {
    case ActionKind::power_on:
      return "power_on";
    case ActionKind::power_off:
      return "power_off";
    case ActionKind::reset:
      return "reset";
    case ActionKind::port_open:
      return "port_open";
    case ActionKind::port_close:
      break;
  }
  return "port_close";
}

const char* name_of(ReceiverFrame::Order order) {
  switch (order) {
    case ReceiverFrame::Order::reversed:
      return "reversed";
    case ReceiverFrame::Order::simultaneous:
      return "simultaneous";
    case ReceiverFrame::Order::overlapping:
      return "overlapping";
    case ReceiverFrame::Order::sequential:
      break;
  }
  return "sequential";
}

/// 3.0 as 3, as people write it.
Json number(double value) {
  if (value == std::floor(value) && std::abs(value) < 1e9) return static_cast<std::int64_t>(value);
  return value;
}

Json numbers(const std::map<std::string, double>& values) {
  Json out = Json::object();
  for (const auto& [input, value] : values) out[input] = number(value);
  return out;
}

/// A member that is not its default.
void put(Json& out, const char* key, double value, double otherwise) {
  if (value != otherwise) out[key] = number(value);
}

Json frame_json(const ReceiverFrame& frame) {
  const ReceiverFrame usual;
  Json out = {{"period_us", number(frame.period_us)}};
  if (!frame.phase_us.empty()) out["phase_us"] = numbers(frame.phase_us);
  put(out, "jitter_us", frame.jitter_us, usual.jitter_us);
  put(out, "dither_us", frame.dither_us, usual.dither_us);
  if (frame.order != usual.order) out["order"] = name_of(frame.order);
  put(out, "overlap_us", frame.overlap_us, usual.overlap_us);
  if (!frame.drift_us.empty()) out["drift_us"] = numbers(frame.drift_us);
  return out;
}

Json fault_json(const ChannelFault& fault) {
  const ChannelFault usual;
  Json out = {{"input", fault.input}, {"fault", name_of(fault.fault)}};
  put(out, "at_us", fault.at_us, usual.at_us);
  put(out, "width_us", fault.width_us, usual.width_us);
  put(out, "at_to_us", fault.at_to_us, usual.at_to_us);
  put(out, "for_us", fault.for_us, usual.for_us);
  put(out, "share", fault.share, usual.share);
  return out;
}

/// Half of an input's travel, us: what an amplitude of 100 percent is.
double half_travel(const mixer::MixerSpec& spec, const std::string& input) {
  return (width_of_percent(spec, input, 100) - width_of_percent(spec, input, -100)) / 2;
}

class Writer {
 public:
  explicit Writer(const mixer::MixerSpec* spec) : spec_(spec) {}

  Json move(const Move& m) const {
    Json out = Json::object();
    put_sticks(out, m);
    if (m.kind == Move::Kind::points)
      out["hold_ms"] = number(m.point_ms);
    else
      out["for_ms"] = number(m.for_ms);
    if (!m.actions.empty()) {
      out["actions"] = Json::array();
      for (const ActionKind kind : m.actions) out["actions"].push_back(name_of(kind));
    }
    put(out, "action_within_ms", m.action_within_ms, 0);
    for (const ChannelFault& fault : m.faults)
      if (fault.fault != Fault::none) out["faults"].push_back(fault_json(fault));
    if (m.frame) out["frame"] = frame_json(*m.frame);
    if (!m.mark.empty()) out["mark"] = m.mark;
    return out;
  }

 private:
  void put_sticks(Json& out, const Move& m) const {
    switch (m.kind) {
      case Move::Kind::hold:
        out["hold"] = sticks(m.from);
        break;
      case Move::Kind::ramp:
        out["ramp"] = {{"from", sticks(m.from)}, {"to", sticks(m.to)}};
        break;
      case Move::Kind::sine:
        out["sine"] = {{"around", sticks(m.from)}, {"amplitude", amplitudes(m.amplitude_us)}};
        out["period_ms"] = number(m.period_ms);
        break;
      case Move::Kind::points:
        out["list"] = Json::array();
        for (const auto& point : m.points) out["list"].push_back(sticks(point));
        break;
    }
  }

  Json sticks(const std::map<std::string, double>& widths) const {
    Json out = Json::object();
    for (const auto& [input, us] : widths) out[input] = number(spec_ ? rounded(percent_of_width(*spec_, input, us)) : us);
    return out;
  }

  Json amplitudes(const std::map<std::string, double>& widths) const {
    Json out = Json::object();
    for (const auto& [input, us] : widths) out[input] = number(spec_ ? rounded(100 * us / half_travel(*spec_, input)) : us);
    return out;
  }

  /// 0.0001 percent of the usual travel is 0.0005 us.
  static double rounded(double percent) { return std::round(percent * 1e4) / 1e4 + 0.0; }

  const mixer::MixerSpec* spec_;
};

/// A comment line each, whatever is in the text.
std::string comments(const std::vector<std::string>& lines) {
  std::string out;
  for (const std::string& line : lines) {
    out += "// ";
    for (const char c : line) out += c == '\n' || c == '\r' ? ' ' : c;
    out += '\n';
  }
  return out;
}

std::string dumped(const Json& value) { return value.dump(-1, ' ', false, Json::error_handler_t::replace); }

}  // namespace

bool fits_percent(const StickScript& script, const mixer::MixerSpec& spec) {
  const auto fit = [&](const std::map<std::string, double>& widths) {
    for (const auto& [input, us] : widths)
      if (std::abs(percent_of_width(spec, input, us)) > 200) return false;
    return true;
  };
  for (const Move& move : script.moves) {
    if (!fit(move.from) || !fit(move.to)) return false;
    for (const auto& point : move.points)
      if (!fit(point)) return false;
    for (const auto& [input, us] : move.amplitude_us)
      if (std::abs(us / half_travel(spec, input)) > 2) return false;
  }
  return true;
}

std::string sticks_text(const StickScript& script, const std::vector<std::string>& header, const mixer::MixerSpec* percent_of) {
  const Writer writer(percent_of);
  std::string out = comments(header) + "{\n  \"format\": \"midstick sticks 1\",\n  \"name\": " + dumped(script.name) +
                    ",\n  \"seed\": " + std::to_string(script.seed & 0xFFFFFFFFu) + ",\n  \"unit\": \"" + (percent_of ? "percent" : "us") +
                    "\",\n  \"frame\": " + dumped(frame_json(script.frame)) + ",\n  \"moves\": [\n";
  for (std::size_t i = 0; i < script.moves.size(); ++i)
    out += "    " + dumped(writer.move(script.moves[i])) + (i + 1 < script.moves.size() ? ",\n" : "\n");
  return out + "  ]\n}\n";
}

Status write_sticks(const std::string& path, const StickScript& script, const std::vector<std::string>& header,
                    const mixer::MixerSpec* percent_of) {
  const std::string text = sticks_text(script, header, percent_of);
  if (const auto readable = read_source(text, path, FileKind::sticks); !readable) return readable.error();
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out << text;
  out.close();
  if (!out) return Error{ErrorKind::io, path + ": found a file that cannot be written; expected one that can"};
  return Ok{};
}

}  // namespace midstick::script
