#include "daemon/judge/pictures.hpp"

#include <limits>

namespace midstick::judge {
namespace {
constexpr double kLongestDrawnUs = 5000;
}

Series series(Series::Role role, Series::Style style, std::string label) {
  Series s;
  s.role = role;
  s.style = style;
  s.label = std::move(label);
  return s;
}

void point(Series& s, double x, double y) {
  s.x.push_back(x);
  s.y.push_back(y);
}

void gap(Series& s) {
  if (!s.x.empty()) point(s, s.x.back(), std::numeric_limits<double>::quiet_NaN());
}

Series level(Series::Role role, std::string label, double x0, double x1, double y) {
  Series s = series(role, Series::Style::line, std::move(label));
  point(s, x0, y);
  point(s, x1, y);
  return s;
}

Series widths_over_time(const Traffic& traffic, std::span<const Pulse> pulses, BoardTime origin, Series::Role role, std::string label) {
  Series s = series(role, Series::Style::dots, std::move(label));
  for (const Pulse& p : pulses)
    if (traffic.us(p) < kLongestDrawnUs) point(s, traffic.ms(p.fall - origin), traffic.us(p));
  return s;
}

Picture time_picture(const Traffic& traffic, BoardTime begin, BoardTime end, std::string title) {
  Picture p;
  p.title = std::move(title);
  p.x_label = "time, ms";
  p.y_label = "pulse width, us";
  p.series.push_back(widths_over_time(traffic, traffic.throttle().falling_in(begin, end), begin, Series::Role::input, "throttle"));
  p.series.push_back(widths_over_time(traffic, traffic.steering().falling_in(begin, end), begin, Series::Role::input, "steering"));
  for (const Side s : kSides)
    p.series.push_back(widths_over_time(traffic, traffic.output(s).falling_in(begin, end), begin, Series::Role::measured, name(s)));
  return p;
}

}  // namespace midstick::judge
