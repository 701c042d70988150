// map.html: plots and tables of a map, in the look of the reports and with their parts.
#include <algorithm>
#include <cmath>

#include "daemon/report/caution.hpp"
#include "daemon/report/html_parts.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/plot.hpp"
#include "daemon/report/svg.hpp"
#include "daemon/report/text.hpp"
#include "daemon/sweep/write_map.hpp"

namespace midstick::sweep {
namespace {

using judge::Picture;
using judge::Series;
using report::escape;
using report::Table;

constexpr int kDetail = 380;

std::string text(const Value& v, const char* unit, int decimals = 2) {
  return report::fixed(v.value, decimals) + " \u00b1 " + report::fixed(std::max(v.u, 0.01), decimals) + " " + report::unit_symbol(unit);
}
std::string text(const std::optional<Value>& v, const char* unit, int decimals = 2) { return v ? text(*v, unit, decimals) : "none found"; }

std::string page(const std::string& title, const std::string& lead, const std::string& facts, const std::string& body, const MapFacts& by) {
  return "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, "
         "initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\"><title>" +
         escape(title) + " - Midstick map</title>\n<style>\n" + report::kPageCss +
         "</style></head>\n<body>\n<header class=\"top\"><p class=\"brand\">Midstick map</p><h1>" + escape(title) +
         "</h1><p class=\"lead\">" + escape(report::with_micro_sign(lead)) + "</p>\n<dl class=\"facts\">" + facts +
         "</dl>\n<p class=\"warn\">These are the numbers of one machine on one day. A map says what a controller does, not that it is "
         "right: read the <a "
         "href=\"#cautions\">cautions</a>.</p></header>\n<main>\n" +
         body + "</main>\n<footer><p>Written by " + escape(by.program) +
         ". The same for programs: map.json, map.csv; for the controller's source: map.h.</p></footer>\n</body></html>\n";
}

std::string cautions() {
  std::string out = "<section id=\"cautions\"><h2>Cautions</h2><ul>";
  for (const char* line : report::kCautions) out += "<li>" + escape(line) + "</li>";
  return out + "</ul></section>\n";
}

std::string figure(const Picture& p, const std::string& id) {
  return "<figure><figcaption>" + escape(report::with_micro_sign(p.title)) + "</figcaption>" + report::plot_svg(p, id, kDetail) +
         report::plot_legend(p) + "</figure>\n";
}

std::string title_of(const CurveMap& c) { return c.output + " by " + c.input; }

/// Up and down beside each other; they part where there is hysteresis.
Picture curve_picture(const CurveMap& c) {
  Picture p{title_of(c), c.input + ", us", c.output + ", us", {}, {}, {}};
  Series up{Series::Style::line, Series::Role::measured, "up", {}, {}}, down{Series::Style::line, Series::Role::measured, "down", {}, {}};
  for (const CurvePoint& q : c.points) {
    (q.up ? up : down).x.push_back(q.in);
    (q.up ? up : down).y.push_back(q.out.us);
  }
  p.series = {std::move(up), std::move(down)};
  if (c.low.edge && c.high.edge) p.bands.push_back({c.low.edge->value, c.high.edge->value, "dead band", false});
  return p;
}

/// What the straight line of each side leaves over: curvature and clipping of the stretch show here.
Picture residual_picture(const CurveMap& c, double centre) {
  Picture p{"Distance from the straight line, " + title_of(c), c.input + ", us", "us", {}, {}, {}};
  Series dots{Series::Style::dots, Series::Role::measured, "reading less line", {}, {}};
  for (const CurvePoint& q : c.points)
    for (const bool high : {false, true}) {
      const SideFit& f = (high ? c.high : c.low).fit;
      const double sign = high ? 1 : -1, u = sign * (q.in - centre);
      if (!f.gain || u < f.gain_from || u > f.gain_to) continue;
      dots.x.push_back(q.in);
      dots.y.push_back(q.out.us - f.gain_y - sign * f.gain->value * (u - f.gain_from));
    }
  p.series = {std::move(dots)};
  return p;
}

/// Cells of the grid: how far the output is from neutral, by depth; a bar marks those below it, so that colour is not needed.
std::string grid_svg(const Map& map, std::size_t o, const std::string& id) {
  constexpr double kLeft = 60, kTop = 8, kBottom = 44, kRight = 8;
  const double cell = (report::kSvgWidth - kLeft - kRight) / map.settings.grid, height = kTop + cell * map.settings.grid + kBottom;
  const double low = map.settings.centre_us - map.settings.stick_us, step = 2 * map.settings.stick_us / (map.settings.grid - 1);
  const double most = std::max({1.0, map.high[o].value - map.neutral[o].value, map.neutral[o].value - map.low[o].value});
  std::string out =
      report::svg_open(id, height, map.outputs[o] + " over the grid",
                       "Cells of " + map.inputs[1] + " across and " + map.inputs[0] + " upwards; the deeper, the further from neutral");
  for (const GridPoint& p : map.grid) {
    const double column = std::round((p.in[1] - low) / step), row = map.settings.grid - 1 - std::round((p.in[0] - low) / step);
    const double off = p.out[o].us - map.neutral[o].value, x = kLeft + column * cell, y = kTop + row * cell;
    out += "<rect x=\"" + report::px(x) + "\" y=\"" + report::px(y) + "\" width=\"" + report::px(cell - 1) + "\" height=\"" +
           report::px(cell - 1) + "\" style=\"fill:var(" + (off < 0 ? "--m1" : "--m0") +
           ");fill-opacity:" + report::fixed(0.06 + 0.94 * std::min(1.0, std::abs(off) / most), 2) + "\"><title>" +
           escape(map.inputs[0] + " " + report::fixed(p.in[0], 0) + ", " + map.inputs[1] + " " + report::fixed(p.in[1], 0) + ": " +
                  text(Value{p.out[o].us, p.out[o].u}, "us")) +
           "</title></rect>";
    if (off < -1)
      out += "<path class=\"axis\" d=\"M" + report::px(x + cell / 3) + " " + report::px(y + cell / 2) + "h" + report::px(cell / 3) + "\"/>";
  }
  const double right = report::kSvgWidth - kRight, bottom = kTop + cell * map.settings.grid;
  out += report::svg_text(kLeft, bottom + 16, "start", "tick", report::fixed(low, 0)) +
         report::svg_text(right, bottom + 16, "end", "tick", report::fixed(2 * map.settings.centre_us - low, 0));
  out += report::svg_text(kLeft - 6, bottom - 2, "end", "tick", report::fixed(low, 0)) +
         report::svg_text(kLeft - 6, kTop + 12, "end", "tick", report::fixed(2 * map.settings.centre_us - low, 0));
  out += report::svg_text((kLeft + right) / 2, bottom + 34, "middle", "label",
                          map.inputs[1] + " across, " + map.inputs[0] + " upwards, \u00b5s");
  return out + "</svg>";
}

std::string outputs_table(const Map& map) {
  Table t{"Each output, over the whole sweep", {"Output", "Neutral", "Shortest", "Longest", "Frame", "Inputs together"}, {}, "twwwwt"};
  for (std::size_t o = 0; o < map.outputs.size(); ++o) {
    std::string together = "one input only";
    if (o < map.coupling.size())
      together = "up to " + report::fixed(map.coupling[o].unclipped_us, 1) +
                 " \u00b5s from the sum of each alone where that is in reach, " + report::fixed(map.coupling[o].largest_us, 1) +
                 " \u00b5s anywhere";
    t.rows.push_back({escape(map.outputs[o]), text(map.neutral[o], "us"), text(map.low[o], "us"), text(map.high[o], "us"),
                      report::fixed(map.probed.frame_ms[o], 3) + " ms", together});
  }
  return "<section><h2>Outputs</h2>\n" + report::html_table(t) + "</section>\n";
}

std::string side_rows(const CurveMap& c) {
  Table t{"Both sides of the input's centre", {"Value", "Below centre", "Above centre"}, {}, "twt"};
  const auto row = [&](const char* what, auto value) { t.rows.push_back({what, value(c.low), value(c.high)}); };
  row("Dead-band edge", [](const SideMap& s) { return text(s.edge, "us"); });
  row("Edge on the way out", [](const SideMap& s) { return text(s.leaving, "us"); });
  row("Edge on the way in", [](const SideMap& s) { return text(s.entering, "us"); });
  row("Step at the edge", [](const SideMap& s) { return s.fit.jumps ? text(s.fit.offset, "us") : std::string("none"); });
  row("Gain", [](const SideMap& s) {
    return s.fit.gain
               ? text(*s.fit.gain, "", 4) + "over " + report::fixed(s.gain_from, 0) + " to " + report::fixed(s.gain_to, 0) + " \u00b5s"
               : std::string("none found");
  });
  row("Shape", [](const SideMap& s) {
    return std::string(s.fit.straight ? "straight" : "bent") + ", up to " + report::fixed(s.fit.linearity, 2) + " \u00b5s from the line";
  });
  row("Clips from", [](const SideMap& s) { return text(s.end, "us"); });
  row("Output at the end", [](const SideMap& s) { return text(s.fit.last, "us"); });
  return report::html_table(t);
}

std::string curve_section(const Map& map, const CurveMap& c, std::size_t n) {
  std::string out = "<section class=\"check\"><h2>" + escape(title_of(c)) + "</h2>\n";
  if (!c.answers) return out + "<p class=\"lead\">This output does not answer this input.</p></section>\n";
  out += "<p class=\"note\">" +
         std::string(c.monotonic ? "Monotonic. " : "NOT monotonic: a step back of " + report::fixed(c.step_back, 2) + " \u00b5s. ") +
         "Ways up and down differ by " + text(c.hysteresis, "us") + " at most. " +
         (c.smallest_step ? "Steps of " + report::fixed(*c.smallest_step, 2) + " \u00b5s always show. "
                          : "No step up to 6 \u00b5s always shows. ");
  if (c.slew.out_us_s.value > 0)
    out += "Slewed: " + text(c.slew.out_us_s, "us", 0) + "/s away from neutral, " + text(c.slew.back_us_s, "us", 0) + "/s towards it. ";
  if (c.slew.rest_ms.value > 0) out += "Rests " + text(c.slew.rest_ms, "ms", 0) + " at neutral between ahead and back. ";
  if (c.fast)
    out += "Swept in 1 s it follows " + report::fixed(c.fast->lag_ms, 1) + " ms later, within " + report::fixed(c.fast->residual_us, 1) +
           " \u00b5s of the slow curve.";
  out += "</p>\n<div class=\"figures\">\n" + figure(curve_picture(c), "curve-" + std::to_string(n)) +
         figure(residual_picture(c, map.settings.centre_us), "residual-" + std::to_string(n)) + "</div>\n" + side_rows(c);
  return out + "</section>\n";
}

std::string grid_section(const Map& map) {
  if (map.grid.empty()) return "";
  std::string out = "<section class=\"check\"><h2>Both inputs together</h2>\n<div class=\"figures\">\n";
  for (std::size_t o = 0; o < map.outputs.size(); ++o)
    out += "<figure><figcaption>" + escape(map.outputs[o]) + ": distance from neutral; a bar marks widths below it</figcaption>" +
           grid_svg(map, o, "grid-" + std::to_string(o)) + "</figure>\n";
  out += "</div>\n<p class=\"note\">" + std::to_string(map.grid.size()) + " settled positions";
  if (map.unsettled) out += "; " + std::to_string(map.unsettled) + " were left out: an output was still on its way";
  return out + ".</p></section>\n";
}

}  // namespace

std::string map_html(const Map& map, const MapFacts& facts) {
  std::string list = report::html_fact("Bench", map.bench) + report::html_fact("When", report::html_time(facts.when)) +
                     report::html_fact("Board time", report::duration_text(map.board_s * 1e3)) +
                     report::html_fact("Followed after", report::duration_text(map.probed.pace.arm_ms) + " at neutral");
  std::string body = outputs_table(map);
  std::size_t n = 0;
  for (const CurveMap& c : map.curves) body += curve_section(map, c, ++n);
  body += grid_section(map);
  body +=
      "<section><p class=\"note\">Each value comes with the half width of its 95 % interval. Edges, ends and gains are from one "
      "least-squares fit a side; "
      "an edge where the output jumps lies between two positions of the sweep, and nothing finer is claimed. Widths are true "
      "time.</p></section>\n";
  return page(map.controller, "What each output makes of each stick, measured.", list, body + cautions(), facts);
}

std::string map_html(const ReceiverMap& map, const MapFacts& facts) {
  const std::string list = report::html_fact("Bench", map.bench) + report::html_fact("When", report::html_time(facts.when)) +
                           report::html_fact("Frame", text(map.period_us, "us", 1));
  Table t{
      "Each channel",
      {"Channel", "Low end", "Centre", "High end", "Trim", "Back from low", "Back from high", "Jitter", "Smallest step", "Others moved"},
      {},
      "twwwwwwnnn"};
  for (const ChannelMap& c : map.channels)
    t.rows.push_back({escape(c.name), text(c.low, "us"), text(c.centre, "us"), text(c.high, "us"), text(c.trim, "us"),
                      text(c.back_from_low, "us"), text(c.back_from_high, "us"), report::fixed(c.jitter_us, 2) + " \u00b5s",
                      report::fixed(c.smallest_step_us, 2) + " \u00b5s", report::fixed(c.others_us, 2) + " \u00b5s"});
  return page(map.name, "What the receiver sends at rest and with each stick at its ends.", list,
              "<section><h2>Channels</h2>\n" + report::html_table(t) +
                  "<p class=\"note\">An end is where the stick was held. Back from: what is left of the way after letting go. Others "
                  "moved: the furthest that any "
                  "other channel went meanwhile; the transmitter mixes, or another stick was touched.</p></section>\n" +
                  cautions(),
              facts);
}

}  // namespace midstick::sweep
