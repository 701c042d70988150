// Short ways to fill a Picture: widths over time, limits as lines, a band of time. Plain values; report/ draws them.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

Series series(Series::Role role, Series::Style style, std::string label);
void point(Series& s, double x, double y);
/// Break the line before the next point.
void gap(Series& s);
/// Horizontal line from x0 to x1.
Series level(Series::Role role, std::string label, double x0, double x1, double y);

/// Widths of pulses as dots over milliseconds since `origin`.
Series widths_over_time(const Traffic& traffic, std::span<const Pulse> pulses, BoardTime origin, Series::Role role, std::string label);
/// Both outputs and both inputs within [begin, end], in milliseconds since begin; pulses of over 5 ms are left out.
Picture time_picture(const Traffic& traffic, BoardTime begin, BoardTime end, std::string title);

}  // namespace midstick::judge
