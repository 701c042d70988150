#include "daemon/report/svg.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/report/numbers.hpp"
#include "daemon/report/style.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {

std::string px(double value) { return plain(value, 1); }

std::string svg_open(std::string_view id, double height, std::string_view title, std::string_view description) {
  return fmt::format(
      "<svg id=\"{0}\" viewBox=\"0 0 {1} {2}\" role=\"img\" aria-labelledby=\"{0}-t {0}-d\"><title id=\"{0}-t\">{3}</title>"
      "<desc id=\"{0}-d\">{4}</desc>\n",
      id, px(kSvgWidth), px(height), escape(with_micro_sign(title)), escape(with_micro_sign(description)));
}

std::string svg_hatch(std::string_view id) {
  return fmt::format(
      "<defs><pattern id=\"{}-hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">"
      "<path class=\"hatch\" d=\"M0 0V6\"/></pattern></defs>\n",
      id);
}

std::string svg_text(double x, double y, std::string_view anchor, std::string_view css, std::string_view text) {
  return fmt::format("<text x=\"{}\" y=\"{}\" text-anchor=\"{}\" class=\"{}\">{}</text>\n", px(x), px(y), anchor, css, escape(text));
}

std::string svg_failing(std::string_view id, double x0, double x1, double top, double bottom, double left, double right,
                        std::string_view label) {
  // A stretch may be far narrower than a pixel; it is drawn at least 3 wide so that it can be found.
  const double width = std::max(3.0, x1 - x0);
  const double from = std::clamp((x0 + x1 - width) / 2, left, std::max(left, right - width));
  std::string out = fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"url(#{}-hatch)\"/>", px(from), px(top),
                                px(width), px(bottom - top), id);
  out += fmt::format("<path class=\"bracket\" d=\"M{0} {2}V{1}H{3}V{2}\"/>\n", px(from), px(top), px(bottom), px(from + width));
  const double middle = from + width / 2;
  out += fmt::format("<path class=\"pointer\" d=\"M{} {}l-5 -8h10z\"/>\n", px(middle), px(top));
  if (label.empty()) return out;
  const auto text = svg_cut(label, right - left);
  const double half = columns(text) * kCharWidth / 2;
  const double x = std::clamp(middle, left + half, std::max(left + half, right - half));
  return out + svg_text(x, top - 11, "middle", "fails", text);
}

std::string svg_cut(std::string_view text, double room) {
  const auto safe = visible(with_micro_sign(text), false);
  const int most = std::max(2, static_cast<int>(room / kCharWidth));
  return columns(safe) <= most ? safe : fit(safe, most, TerminalStyle{});
}

}  // namespace midstick::report
