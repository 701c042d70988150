// map.csv: every reading, a line each, for spreadsheets. map.h: constants for the builder's source.
#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>

#include "daemon/sweep/write_map.hpp"

namespace midstick::sweep {
namespace {

template <class... Args>
std::string line(const char* format, Args... args) {
  char text[400];
  std::snprintf(text, sizeof text, format, args...);
  return text;
}

/// A field of RFC 4180: quoted where it must be.
std::string field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

/// Part of a macro's name: capitals, digits and low lines.
std::string macro(const std::string& name) {
  std::string out;
  for (const char c : name)
    out += std::isalnum(static_cast<unsigned char>(c)) ? static_cast<char>(std::toupper(static_cast<unsigned char>(c))) : '_';
  return out;
}

/// Text inside a C comment: one line, and no end of the comment.
std::string comment(std::string text) {
  for (char& c : text)
    if (c == '*' || c == '\\' || static_cast<unsigned char>(c) < ' ') c = '.';
  return text;
}

std::string define(const std::string& name, double us, double u, const std::string& what) {
  return line("#define %-32s %6ld /* us; %.2f, U %.2f; ", name.c_str(), std::lround(us), us, std::ceil(u * 100) / 100) + what + " */\n";
}

/// In 1/1024, so that a small chip multiplies and shifts by ten.
std::string define_gain(const std::string& name, const Value& gain, const std::string& what) {
  return line("#define %-32s %6ld /* 1/1024 us/us; %.4f, U %.4f; ", name.c_str(), std::lround(gain.value * 1024), gain.value,
              std::ceil(gain.u * 1e4) / 1e4) +
         what + " */\n";
}

std::string opening(const MapFacts& facts, const std::string& of) {
  return "/* " + comment(of) + "\n   Measured " + comment(facts.when) + " by " + comment(facts.program) +
         ". Generated: sweep again instead of editing.\n"
         "   Widths are whole microseconds of true time; the comment holds the measured value and U, the half width of its 95 % interval.\n"
         "   A number from one machine on one day: check it against your own limits before a machine is driven by it. */\n"
         "#ifndef MIDSTICK_MAP_H\n#define MIDSTICK_MAP_H\n\n";
}

std::string side_constants(const std::string& prefix, const SideMap& s, bool high) {
  const std::string side = high ? "_HIGH" : "_LOW", where = high ? "above centre" : "below centre";
  std::string out;
  if (!s.fit.answers) return out;
  if (s.leaving && s.fit.jumps) {
    out += define(prefix + side + "_LEAVES_US", s.leaving->value, s.leaving->u, "input " + where + " at which the output leaves neutral");
    out += define(prefix + side + "_ENTERS_US", s.entering->value, s.entering->u, "and at which it comes back to it");
  } else if (s.edge) {
    out += define(prefix + side + "_EDGE_US", s.edge->value, s.edge->u, "input " + where + ": edge of the dead band");
  }
  if (s.end) out += define(prefix + side + "_END_US", s.end->value, s.end->u, "input from which the output stays as it is");
  if (s.fit.offset && s.fit.jumps)
    out += define(prefix + side + "_START_US", s.fit.offset->value, s.fit.offset->u, "output's step at the edge");
  out += define(prefix + side + "_REACH_US", s.fit.last.value, s.fit.last.u, "output at the end");
  if (s.fit.gain)
    out += define_gain(prefix + side + "_GAIN", *s.fit.gain,
                       line("straight line over input %.0f to %.0f us%s", s.gain_from, s.gain_to,
                            s.fit.straight ? "" : "; the curve is BENT, this is its mean"));
  return out;
}

}  // namespace

std::string map_csv(const Map& map) {
  std::string out = "leg";
  for (const auto& in : map.inputs) out += "," + field(in + "_us");
  for (const auto& o : map.outputs) out += "," + field(o + "_us") + "," + field(o + "_U_us") + "," + field(o + "_pulses");
  out += "\r\n";
  for (std::size_t i = 0; i < map.inputs.size(); ++i) {
    // All outputs of a slow reading stand in curves of their own; they share the input's positions.
    const auto& first = map.curve(i, 0).points;
    for (std::size_t p = 0; p < first.size(); ++p) {
      out += (first[p].up ? "up " : "down ") + field(map.inputs[i]);
      for (std::size_t k = 0; k < map.inputs.size(); ++k) out += line(",%.3f", k == i ? first[p].in : map.settings.centre_us);
      for (std::size_t o = 0; o < map.outputs.size(); ++o) {
        const auto& points = map.curve(i, o).points;
        const auto same =
            std::ranges::find_if(points, [&](const CurvePoint& q) { return q.up == first[p].up && std::abs(q.in - first[p].in) < 1e-6; });
        out += same == points.end() ? ",,," : line(",%.3f,%.3f,%d", same->out.us, same->out.u, same->out.pulses);
      }
      out += "\r\n";
    }
  }
  for (const GridPoint& p : map.grid) {
    out += "grid";
    for (const double in : p.in) out += line(",%.3f", in);
    for (const Level& l : p.out) out += line(",%.3f,%.3f,%d", l.us, l.u, l.pulses);
    out += "\r\n";
  }
  return out;
}

std::string map_csv(const ReceiverMap& map) {
  std::string out = "channel,quantity,value_us,U_us\r\n";
  for (const ChannelMap& c : map.channels) {
    const auto row = [&](const char* what, const Value& v) { out += field(c.name) + line(",%s,%.3f,%.3f\r\n", what, v.value, v.u); };
    row("low", c.low), row("centre", c.centre), row("high", c.high), row("trim", c.trim);
    row("back_from_low", c.back_from_low), row("back_from_high", c.back_from_high);
  }
  return out;
}

std::string map_header(const Map& map, const MapFacts& facts) {
  std::string out = opening(facts, "Map of the controller \"" + map.controller + "\".");
  for (std::size_t o = 0; o < map.outputs.size(); ++o) {
    const std::string name = macro(map.outputs[o]);
    out += "/* Output " + comment(map.outputs[o]) + " */\n";
    out += define(name + "_NEUTRAL_US", map.neutral[o].value, map.neutral[o].u, "armed, sticks at centre");
    out += define(name + "_LOWEST_US", map.low[o].value, map.low[o].u, "shortest seen anywhere");
    out += define(name + "_HIGHEST_US", map.high[o].value, map.high[o].u, "longest seen anywhere");
    out += line("#define %-32s %6ld /* us */\n", (name + "_FRAME_US").c_str(), std::lround(map.probed.frame_ms[o] * 1e3));
    for (std::size_t i = 0; i < map.inputs.size(); ++i) {
      const CurveMap& c = map.curve(i, o);
      if (!c.answers) continue;
      const std::string prefix = name + "_BY_" + macro(map.inputs[i]);
      out += side_constants(prefix, c.low, false) + side_constants(prefix, c.high, true);
    }
    out += "\n";
  }
  return out + "#endif\n";
}

std::string map_header(const ReceiverMap& map, const MapFacts& facts) {
  std::string out = opening(facts, "Map of the receiver \"" + map.name + "\".");
  out += line("#define %-32s %6ld /* us; %.1f, U %.1f; frame */\n", "RECEIVER_FRAME_US", std::lround(map.period_us.value),
              map.period_us.value, map.period_us.u);
  for (const ChannelMap& c : map.channels) {
    const std::string name = macro(c.name);
    out += define(name + "_LOW_US", c.low.value, c.low.u, "stick held at its low end");
    out += define(name + "_CENTRE_US", c.centre.value, c.centre.u, "stick released");
    out += define(name + "_HIGH_US", c.high.value, c.high.u, "stick held at its high end");
    out += define(name + "_TRIM_US", c.trim.value, c.trim.u, "centre less 1500 us");
    out += line("#define %-32s %6ld /* us, rounded up; half of the middle 95 %% of widths at rest */\n", (name + "_JITTER_US").c_str(),
                std::lround(std::ceil(c.jitter_us)));
  }
  return out + "\n#endif\n";
}

}  // namespace midstick::sweep
