#include "daemon/report/lanes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/report/style.hpp"
#include "daemon/report/svg.hpp"
#include "daemon/report/text.hpp"

namespace midstick::report {
namespace {

constexpr double kLabel = 17;  // a row's name above its blocks
constexpr double kBlock = 22;
constexpr double kGap = 8;
constexpr double kPad = 4;    // between a block's edge and its text
constexpr int kShortest = 2;  // letters: fewer say nothing
constexpr std::size_t kMostTold = 16;

bool drawn(const judge::Band& state) { return std::isfinite(state.from) && std::isfinite(state.to) && state.to >= state.from; }

/// As much of the name as a block has room for.
std::string block_text(const std::string& name, double room) {
  const int letters = static_cast<int>((room - 2 * kPad) / kCharWidth);
  if (columns(name) <= letters) return name;
  return letters < kShortest ? "" : name.substr(0, static_cast<std::size_t>(letters));
}

std::string block(const judge::Band& state, std::string_view id, double x0, double x1, double top) {
  std::string out = fmt::format("<rect class=\"state\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", px(x0), px(top),
                                px(std::max(1.0, x1 - x0)), px(kBlock));
  if (state.failing)
    out += fmt::format("<rect class=\"bracket\" style=\"fill:url(#{}-hatch)\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", id, px(x0),
                       px(top), px(std::max(3.0, x1 - x0)), px(kBlock));
  const auto text = block_text(state.label, x1 - x0);
  return text.empty() ? out : out + svg_text((x0 + x1) / 2, top + kBlock - 7, "middle", state.failing ? "fails" : "state", text);
}

/// "waiting 0 to 60, arming 60 to 360"
std::string told(const judge::Lane& lane, double step) {
  std::string out;
  std::size_t n = 0;
  for (const auto& s : lane.states) {
    if (!drawn(s)) continue;
    if (++n > kMostTold) return out + fmt::format(", and {} more", lane.states.size() - kMostTold);
    out += fmt::format("{}{}{} {} to {}", out.empty() ? "" : ", ", s.failing ? "fails: " : "", s.label, tick_label(s.from, step),
                       tick_label(s.to, step));
  }
  return out.empty() ? "nothing" : out;
}

}  // namespace

double lanes_height(const judge::Picture& picture) { return static_cast<double>(picture.lanes.size()) * (kLabel + kBlock + kGap); }

std::string lanes_svg(const judge::Picture& picture, std::string_view id, const Scale& x, double left, double right, double top) {
  std::string out;
  for (const auto& lane : picture.lanes) {
    out += svg_text(left, top + kLabel - 5, "start", "label", svg_cut(lane.label, right - left));
    for (const auto& state : lane.states)
      if (drawn(state)) out += block(state, id, std::clamp(x(state.from), left, right), std::clamp(x(state.to), left, right), top + kLabel);
    top += kLabel + kBlock + kGap;
  }
  return out;
}

std::string lanes_description(const judge::Picture& picture, double step) {
  std::string out;
  for (const auto& lane : picture.lanes) out += fmt::format(" {}: {}.", lane.label, told(lane, step));
  return out;
}

std::string lanes_html(const judge::Picture& picture) {
  std::string out;
  for (const auto& lane : picture.lanes)
    out += fmt::format("<p class=\"note\">{}, {}: {}.</p>\n", escape(with_micro_sign(lane.label)), escape(with_micro_sign(picture.x_label)),
                       escape(with_micro_sign(told(lane, 1))));
  return out;
}

}  // namespace midstick::report
