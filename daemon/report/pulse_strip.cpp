#include "daemon/report/pulse_strip.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/report/axis.hpp"
#include "daemon/report/events.hpp"
#include "daemon/report/lines.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/style.hpp"
#include "daemon/report/svg.hpp"

namespace midstick::report {
namespace {

using capture::Edge;

constexpr double kLeft = 92;  // names of the lanes
constexpr double kRight = kSvgWidth - 10;
constexpr double kTop = 32;  // label of the failing stretch
constexpr double kLane = 48;
constexpr double kHigh = 20;  // from a lane's top to the level "high"
constexpr double kLow = 42;
constexpr std::size_t kMostLabelled = 24;  // edges in a lane

struct Lane {
  std::string name;
  std::vector<Edge> edges;  ///< inside the strip
  bool level{false};        ///< at its beginning
};

Lane lane_of(const std::vector<Edge>& edges, std::uint8_t line, const Strip& strip) {
  Lane lane;
  const auto before = [](const Edge& e, BoardTime t) { return e.at < t; };
  const auto first = std::lower_bound(edges.begin(), edges.end(), strip.begin, before);
  for (auto e = first; e != edges.end() && e->at <= strip.end; ++e)
    if (e->line == line) lane.edges.push_back(*e);
  if (!lane.edges.empty()) {
    lane.level = !lane.edges.front().level;
    return lane;
  }
  for (auto e = first; e != edges.begin();)
    if ((--e)->line == line) {
      lane.level = e->level;
      break;
    }
  return lane;
}

/// Level over time. Edges less than half a pixel after the last drawn one share one spike there, so the path's size has a bound.
std::string wave(const Lane& lane, const Scale& x, const Strip& strip, double top) {
  const auto y = [&](bool level) { return px(top + (level ? kHigh : kLow)); };
  std::string d = fmt::format("M{} {}", px(kLeft), y(lane.level));
  bool level = lane.level;
  bool spiked = false;
  double last = -1;
  for (const auto& e : lane.edges) {
    const double at = x(static_cast<double>((e.at - strip.zero).count));
    if (at - last >= 0.5) {
      if (spiked) d += "V" + y(level);
      d += fmt::format("H{}V{}", px(at), y(e.level));
      last = at;
      spiked = false;
    } else if (!spiked) {
      d += fmt::format("V{}V{}", y(!e.level), y(e.level));
      spiked = true;
    }
    level = e.level;
  }
  return d + fmt::format("V{}H{}", y(level), px(kRight));
}

std::string width_labels(const Lane& lane, const capture::Capture& capture, const Scale& x, const Strip& strip, double top) {
  std::string out;
  if (!strip.close || lane.edges.size() > kMostLabelled) return out;  // a few widths out of many would mislead
  double free_from = kLeft;
  for (std::size_t i = 0; i + 1 < lane.edges.size(); ++i) {
    const auto& rise = lane.edges[i];
    const auto& fall = lane.edges[i + 1];
    if (!rise.level || fall.level) continue;
    const auto text = fixed(capture.clock.us(fall.at - rise.at), 1);
    const double half = static_cast<double>(text.size()) * kCharWidth / 2;
    const double middle = (x(static_cast<double>((rise.at - strip.zero).count)) + x(static_cast<double>((fall.at - strip.zero).count))) / 2;
    if (middle - half < free_from || middle + half > kSvgWidth) continue;
    out += svg_text(middle, top + kHigh - 5, "middle", "width", text);
    free_from = middle + half + 8;
  }
  return out;
}

std::string time_axis(const capture::Capture& capture, const Strip& strip, double bottom) {
  const double per_tick = capture.clock.us(BoardSpan{1}) / 1e3;
  const Range range{static_cast<double>((strip.begin - strip.zero).count) * per_tick,
                    static_cast<double>((strip.end - strip.zero).count) * per_tick, false};
  const Scale x{range, kLeft, kRight};
  const auto ticks = nice_ticks(range, 6);
  std::string lines = fmt::format("M{} {}H{}", px(kLeft), px(bottom), px(kRight));
  std::string labels;
  double free_from = kLeft - 30;
  for (const double tick : ticks.at) {
    const auto label = tick_label(tick, ticks.step);
    const double half = static_cast<double>(label.size()) * kCharWidth / 2;
    lines += fmt::format("M{} {}v5", px(x(tick)), px(bottom));
    if (x(tick) - half < free_from || x(tick) + half > kSvgWidth) continue;
    labels += svg_text(x(tick), bottom + 18, "middle", "tick", label);
    free_from = x(tick) + half + 6;
  }
  labels += svg_text(0, bottom + 18, "start", "label", "ms");
  return fmt::format("<path class=\"axis\" d=\"{}\"/>\n", lines) + labels;
}

std::string event_marks(const capture::Capture& capture, const Strip& strip, const Scale& x, double bottom) {
  std::string out;
  double free_from = kLeft;
  for (const auto& e : capture.events) {
    if (e.kind == capture::EventKind::supply || e.at < strip.begin || e.at > strip.end) continue;
    const double at = x(static_cast<double>((e.at - strip.zero).count));
    out += fmt::format("<path class=\"event\" d=\"M{} {}V{}\"/>\n", px(at), px(kTop), px(bottom));
    const auto text = svg_cut(event_words(e.kind), kRight - kLeft);
    const double start = std::min(at + 4, kRight - columns(text) * kCharWidth);
    if (start < free_from) continue;
    out += svg_text(start, bottom - 3, "start", "tick", text);
    free_from = start + columns(text) * kCharWidth + 8;
  }
  return out;
}

std::string description(const capture::Capture& capture, const Strip& strip) {
  const auto pulses = [&](BoardTime t) { return duration_text(capture.clock.us(t - strip.zero) / 1e3); };
  return fmt::format("Levels of {} lines from {} to {}. {}: from {} to {}.", strip.stimulus_lines.size() + strip.response_lines.size(),
                     pulses(strip.begin), pulses(strip.end), strip.failing ? "Fails: " + strip.mark_label : strip.mark_label,
                     pulses(strip.mark_begin), pulses(strip.mark_end));
}

}  // namespace

std::vector<Strip> strips_of(const judge::Span& span, const capture::Capture& capture, const script::ControllerDescription& controller) {
  Strip strip;
  strip.zero = strip.mark_begin = span.begin;
  strip.mark_end = span.end;
  strip.mark_label = span.label;
  strip.failing = span.failing;
  strip.stimulus_lines = span.stimulus_lines;
  strip.response_lines = span.response_lines;
  if (strip.stimulus_lines.empty() && strip.response_lines.empty()) {
    for (const auto& pin : controller.inputs) strip.stimulus_lines.push_back(pin.line_no);
    for (const auto& pin : controller.outputs) strip.response_lines.push_back(pin.line_no);
  }
  // A few frames at 50 Hz around a short span; a tenth of a long one.
  const BoardSpan frame = capture.clock.ticks(script_ms(20));
  const BoardSpan length = span.end - span.begin;
  const BoardSpan room = std::max(frame, BoardSpan{length.count / 10});
  strip.begin = span.begin - room;
  strip.end = span.end + room;
  strip.title = span.failing ? "Pulses where it failed" : "Pulses it was judged on";
  if (length.count <= 25 * frame.count) return {strip};
  Strip close = strip;
  close.title += ": the beginning";
  close.begin = span.begin - BoardSpan{frame.count * 3 / 2};
  close.end = span.begin + BoardSpan{frame.count * 5 / 2};
  if (!span.failing) return {close};
  strip.title += ": the whole stretch";
  strip.close = false;
  return {strip, close};
}

std::string strip_svg(const Strip& strip, const capture::Capture& capture, const script::ControllerDescription& controller,
                      std::string_view id) {
  std::vector<Lane> lanes;
  for (const auto line : strip.stimulus_lines) {
    lanes.push_back(lane_of(capture.stimulus, line, strip));
    lanes.back().name = stimulus_name(controller, line) + " " + stimulus_line(line);
  }
  const auto inputs = lanes.size();
  for (const auto line : strip.response_lines) {
    lanes.push_back(lane_of(capture.response, line, strip));
    lanes.back().name = response_name(controller, line) + " " + response_line(line);
  }
  const double bottom = kTop + kLane * static_cast<double>(lanes.size()) + 16;
  const Scale x{
      {static_cast<double>((strip.begin - strip.zero).count), static_cast<double>((strip.end - strip.zero).count), false}, kLeft, kRight};
  std::string out = svg_open(id, bottom + 26, strip.title, description(capture, strip)) + svg_hatch(id);
  const auto clamped = [&](BoardTime t) { return std::clamp(x(static_cast<double>((t - strip.zero).count)), kLeft, kRight); };
  const double from = clamped(strip.mark_begin);
  const double to = clamped(strip.mark_end);
  if (!strip.failing) {
    out += fmt::format("<rect class=\"band\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", px(from), px(kTop),
                       px(std::max(1.0, to - from)), px(bottom - kTop));
    out += svg_text(kLeft, kTop - 11, "start", "tick", svg_cut(strip.mark_label, kRight - kLeft));
  }
  out += event_marks(capture, strip, x, bottom);
  for (std::size_t i = 0; i < lanes.size(); ++i) {
    const double top = kTop + kLane * static_cast<double>(i);
    out += svg_text(0, top + kLow - 6, "start", "label", svg_cut(lanes[i].name, kLeft - 6));
    out += fmt::format("<path class=\"wave {}\" d=\"{}\"/>\n", i < inputs ? "stimulus" : "response", wave(lanes[i], x, strip, top));
    out += width_labels(lanes[i], capture, x, strip, top);
  }
  out += time_axis(capture, strip, bottom);
  if (strip.failing)
    out += svg_failing(id, from, to, kTop, bottom, kLeft, kRight, strip.mark_label.empty() ? "fails" : "fails: " + strip.mark_label);
  return out + "</svg>\n";
}

}  // namespace midstick::report
