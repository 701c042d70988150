#include "daemon/report/plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "daemon/report/axis.hpp"
#include "daemon/report/lanes.hpp"
#include "daemon/report/style.hpp"
#include "daemon/report/svg.hpp"
#include "daemon/report/text.hpp"
#include "daemon/report/thin.hpp"

namespace midstick::report {
namespace {

using judge::Series;

constexpr double kHeight = 280;
constexpr double kTop = 24;         // y label above
constexpr double kTopFailing = 44;  // and the labels of failing bands
constexpr double kBottom = 236;     // tick labels and x label below
constexpr double kRight = kSvgWidth - 12;
constexpr int kShapes = 4;

struct Frame {
  Scale x, y;
  double left{60}, top{kTop};
  Ticks x_ticks, y_ticks;
};

Frame frame_of(const judge::Picture& picture) {
  Range x;
  Range y;
  for (const auto& s : picture.series) {
    const auto n = std::min(s.x.size(), s.y.size());
    for (std::size_t i = 0; i < n; ++i) {
      if (!std::isfinite(s.x[i]) || !std::isfinite(s.y[i])) continue;
      x.add(s.x[i]);
      y.add(s.y[i]);
    }
  }
  for (const auto& band : picture.bands) {
    if (!band.failing && !x.empty) continue;
    x.add(band.from);
    x.add(band.to);
  }
  for (const auto& lane : picture.lanes)
    for (const auto& state : lane.states) {
      x.add(state.from);
      x.add(state.to);
    }
  Frame frame;
  if (std::any_of(picture.bands.begin(), picture.bands.end(), [](const auto& b) { return b.failing; })) frame.top = kTopFailing;
  frame.y = {widened(y, 0.06), kBottom, frame.top};
  frame.y_ticks = nice_ticks(frame.y.range, 6);
  std::size_t longest = 1;
  for (const double tick : frame.y_ticks.at) longest = std::max(longest, tick_label(tick, frame.y_ticks.step).size());
  frame.left = 14 + static_cast<double>(longest) * kCharWidth;
  frame.x = {widened(x, 0.02), frame.left, kRight};
  frame.x_ticks = nice_ticks(frame.x.range, 6);
  return frame;
}

std::string grid(const judge::Picture& picture, const Frame& frame) {
  std::string lines;
  std::string labels;
  double free_from = 0;
  for (const double tick : frame.x_ticks.at) {
    const auto label = tick_label(tick, frame.x_ticks.step);
    const double x = frame.x(tick);
    const double half = static_cast<double>(label.size()) * kCharWidth / 2;
    lines += fmt::format("M{} {}V{}", px(x), px(frame.top), px(kBottom));
    if (x - half < free_from || x + half > kSvgWidth) continue;  // would touch its neighbour or the edge
    labels += svg_text(x, kBottom + 17, "middle", "tick", label);
    free_from = x + half + 6;
  }
  for (const double tick : frame.y_ticks.at) {
    lines += fmt::format("M{} {}H{}", px(frame.left), px(frame.y(tick)), px(kRight));
    labels += svg_text(frame.left - 6, frame.y(tick) + 4, "end", "tick", tick_label(tick, frame.y_ticks.step));
  }
  std::string out = fmt::format("<path class=\"grid\" d=\"{}\"/>\n<path class=\"axis\" d=\"M{} {}V{}H{}\"/>\n", lines, px(frame.left),
                                px(frame.top), px(kBottom), px(kRight));
  out += labels;
  out += svg_text(0, 13, "start", "label", svg_cut(picture.y_label, kRight));
  return out + svg_text(kRight, kBottom + 36, "end", "label", svg_cut(picture.x_label, kRight));
}

std::vector<Point> points_of(const Series& series, const Frame& frame) {
  const auto n = std::min(series.x.size(), series.y.size());
  std::vector<Point> points(n);
  constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t i = 0; i < n; ++i) {
    const bool good = std::isfinite(series.x[i]) && std::isfinite(series.y[i]);
    points[i] = good ? Point{frame.x(series.x[i]), frame.y(series.y[i])} : Point{kNaN, kNaN};
  }
  return points;
}

/// Marks around a point, drawn as strokes so that one path holds all of a series. What was asked for is an outline, what came back sits in
/// it.
std::string_view mark(Series::Role role, int shape) {
  constexpr std::array<std::string_view, kShapes> kMarks{"h0", "m-2.5-2.5l5 5m0-5l-5 5", "m-3 0h6m-3-3v6", "m0-3v6"};
  constexpr std::array<std::string_view, kShapes> kOutlines{"m-4.5-4.5h9v9h-9z", "m0-6l6 6-6 6-6-6z", "m-5 4l5-9 5 9z", "m-5-4l5 9 5-9z"};
  const auto i = static_cast<std::size_t>(shape % kShapes);
  return role == Series::Role::expected ? kOutlines[i] : kMarks[i];
}

bool is_round(const Series& series, int number) { return series.role != Series::Role::expected && number == 0; }

std::string dots(const std::vector<Point>& points, std::string_view shape, int detail) {
  const double cell = std::max(1.5, kSvgWidth / std::max(1, detail));  // pixels; a lone outlier has a cell of its own at any detail
  std::string d;
  for (const auto& p : thin_dots(points, cell)) d += fmt::format("M{} {}{}", px(p.x), px(p.y), shape);
  return d;
}

std::string line(const std::vector<Point>& points, bool steps, int detail) {
  std::string d;
  bool pen_down = false;
  for (const auto& p : thin_line(points, detail)) {
    if (!p.drawn()) {
      pen_down = false;
      continue;
    }
    if (!pen_down) {
      d += fmt::format("M{} {}h0", px(p.x), px(p.y));  // the zero-length stroke shows a lone point
    } else if (steps) {
      d += fmt::format("H{}V{}", px(p.x), px(p.y));
    } else {
      d += fmt::format("L{} {}", px(p.x), px(p.y));
    }
    pen_down = true;
  }
  return d;
}

const char* role_class(Series::Role role) {
  switch (role) {
    case Series::Role::expected:
      return "expected";
    case Series::Role::measured:
      return "measured";
    case Series::Role::input:
      return "input";
    case Series::Role::limit:
      return "limit";
  }
  return "measured";
}

/// Number of a series among those of its role: decides hue, dashes and shape.
std::vector<int> numbers_in_role(const judge::Picture& picture) {
  std::array<int, 4> used{};
  std::vector<int> numbers;
  for (const auto& s : picture.series) numbers.push_back(used[static_cast<std::size_t>(s.role)]++ % kShapes);
  return numbers;
}

std::string css_class(const Series& series, int number) {
  return fmt::format("s {} n{}{}", role_class(series.role), number,
                     series.style == Series::Style::dots ? (is_round(series, number) ? " dots" : " marks") : "");
}

std::string description(const judge::Picture& picture, const Frame& frame) {
  std::string text =
      fmt::format("{} from {} to {}, against {} from {} to {}.", picture.y_label, tick_label(frame.y.range.low, frame.y_ticks.step),
                  tick_label(frame.y.range.high, frame.y_ticks.step), picture.x_label, tick_label(frame.x.range.low, frame.x_ticks.step),
                  tick_label(frame.x.range.high, frame.x_ticks.step));
  for (const auto& s : picture.series) text += fmt::format(" {}: {}.", role_class(s.role), s.label);
  for (const auto& b : picture.bands)
    text += fmt::format(" {}{}: from {} to {}.", b.failing ? "Fails: " : "", b.label, tick_label(b.from, frame.x_ticks.step / 10),
                        tick_label(b.to, frame.x_ticks.step / 10));
  return text + lanes_description(picture, frame.x_ticks.step / 10);
}

std::string bands(const judge::Picture& picture, const Frame& frame, std::string_view id, bool failing) {
  std::string out;
  double free_from = -kSvgWidth;
  for (const auto& b : picture.bands) {
    if (b.failing != failing || !std::isfinite(b.from) || !std::isfinite(b.to)) continue;
    const double x0 = std::clamp(frame.x(std::min(b.from, b.to)), frame.left, kRight);
    const double x1 = std::clamp(frame.x(std::max(b.from, b.to)), frame.left, kRight);
    if (failing) {
      // Labels that would run into the one before are left to the description; the hatching and the pointer stay.
      const auto text = svg_cut(b.label.empty() ? "fails" : "fails: " + b.label, kRight - frame.left);
      const bool room = (x0 + x1) / 2 - columns(text) * kCharWidth / 2 >= free_from;
      out += svg_failing(id, x0, x1, frame.top, kBottom, frame.left, kRight, room ? text : "");
      if (room) free_from = (x0 + x1) / 2 + columns(text) * kCharWidth / 2 + 8;
      continue;
    }
    out += fmt::format("<rect class=\"band\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", px(x0), px(frame.top),
                       px(std::max(1.0, x1 - x0)), px(kBottom - frame.top));
    // A label may be wider than its band, down to where the label before it ends; only there it is cut.
    const auto place = [&](std::string_view label) {
      const double half = columns(label) * kCharWidth / 2;
      return std::pair{std::clamp((x0 + x1) / 2, frame.left + half, std::max(frame.left + half, kRight - half)), half};
    };
    auto text = svg_cut(b.label, kRight - frame.left);
    if (const auto [centre, half] = place(text); centre - half < free_from) text = svg_cut(b.label, std::max(x1 - x0, 60.0));
    const auto [centre, half] = place(text);
    free_from = std::max(free_from, centre + half + 8);
    out += svg_text(centre, kBottom - 6, "middle", "tick", text);
  }
  return out;
}

}  // namespace

std::string plot_svg(const judge::Picture& picture, std::string_view id, int detail) {
  const auto frame = frame_of(picture);
  std::string out = svg_open(id, kHeight + lanes_height(picture), picture.title, description(picture, frame));
  out += svg_hatch(id);
  out += bands(picture, frame, id, false);
  out += grid(picture, frame);
  const auto numbers = numbers_in_role(picture);
  bool any = false;
  // What was measured goes on top of what was asked for.
  for (const auto role : {Series::Role::limit, Series::Role::input, Series::Role::expected, Series::Role::measured}) {
    for (std::size_t i = 0; i < picture.series.size(); ++i) {
      const auto& s = picture.series[i];
      if (s.role != role) continue;
      const auto points = points_of(s, frame);
      const auto d = s.style == Series::Style::dots ? dots(points, mark(s.role, numbers[i]), detail)
                                                    : line(points, s.style == Series::Style::steps, detail);
      if (d.empty()) continue;
      any = true;
      out += fmt::format("<path class=\"{}\" d=\"{}\"/>\n", css_class(s, numbers[i]), d);
    }
  }
  if (!any) out += svg_text((frame.left + kRight) / 2, (frame.top + kBottom) / 2, "middle", "label", "nothing was measured");
  out += bands(picture, frame, id, true);
  return out + lanes_svg(picture, id, frame.x, frame.left, kRight, kHeight) + "</svg>\n";
}

std::string plot_legend(const judge::Picture& picture) {
  if (picture.series.empty()) return "";
  const auto numbers = numbers_in_role(picture);
  std::string out = "<ul class=\"legend\">";
  for (std::size_t i = 0; i < picture.series.size(); ++i) {
    const auto& s = picture.series[i];
    const auto same = [&](const Series& other) {
      return other.role == Series::Role::limit && s.role == other.role && other.label == s.label;
    };
    if (std::any_of(picture.series.begin(), picture.series.begin() + static_cast<std::ptrdiff_t>(i), same))
      continue;  // both limits, one key
    const auto d = s.style == Series::Style::dots ? fmt::format("M14 6{}", mark(s.role, numbers[i])) : std::string("M1 6H27");
    out += fmt::format("<li><svg class=\"key\" viewBox=\"0 0 28 12\" aria-hidden=\"true\"><path class=\"{}\" d=\"{}\"/></svg>{}</li>",
                       css_class(s, numbers[i]), d, escape(s.label.empty() ? role_class(s.role) : with_micro_sign(s.label)));
  }
  return out + "</ul>\n";
}

}  // namespace midstick::report
