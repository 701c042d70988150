// Small pieces of SVG text that the plot and the pulse strip share. Pure; coordinates are user units, one decimal.
#pragma once

#include <string>
#include <string_view>

namespace midstick::report {

/// Drawings are laid out this wide so that they read at about 1:1 on a phone, and sit side by side on a desk.
inline constexpr double kSvgWidth = 440;
/// Mean advance of a character of the label size; digits are narrower, capitals wider. From looking, not from a font.
inline constexpr double kCharWidth = 7.2;

/// Coordinate with at most one decimal.
std::string px(double value);

/// Opening tag with accessible title and description; `id` is unique in the page.
std::string svg_open(std::string_view id, double height, std::string_view title, std::string_view description);

/// Pattern that marks a failing stretch without colour; filled by "url(#<id>-hatch)".
std::string svg_hatch(std::string_view id);

/// A text element; `anchor` is start, middle or end.
std::string svg_text(double x, double y, std::string_view anchor, std::string_view css, std::string_view text);

/// Failing stretch from x0 to x1: hatched, bracketed and labelled; the label, if any, is kept inside left..right.
std::string svg_failing(std::string_view id, double x0, double x1, double top, double bottom, double left, double right,
                        std::string_view label);

/// At most `room` pixels of text, cut with an ellipsis.
std::string svg_cut(std::string_view text, double room);

}  // namespace midstick::report
