// The plots of pulse widths over time, by uPlot. Each gives { element, attach, close }: attach once the element is in the document.

import uPlot from "../vendor/uPlot.esm.js";
import { h } from "../dom.js";
import { number } from "../words.js";
import { allowance, columns, decimals, gaps, within } from "./traces.js";

export const kGutter = 64, kRight = 14; ///< px left and right of every plot and lane, so that they line up
const kLeastSpanUs = 24;
const kNoPulseUs = 3000; ///< a line held high, no pulse: it leaves the plot at the top and must not squeeze the others flat

export const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const colourOf = (line, i) => colour(["throttle", "steering", "left", "right"].includes(line.name) ? line.name : line.side === "stick" ? "steering" : i ? "right" : "left");

/** Side by side on one time axis. A break stays a break, however many instants of the others fall into it. */
const joined = (tables) => uPlot.join(tables, tables.map((t) => t.map(() => 2)));

function scaleOf(values, floor) {
  let low = Infinity, high = -Infinity;
  for (const v of values) if (v !== null && v !== undefined && v < kNoPulseUs) (low = Math.min(low, v)), (high = Math.max(high, v));
  if (low > high) return [1000, 2000];
  const room = Math.max((high - low) * 0.08, (floor - (high - low)) / 2, 2);
  return [low - room, high + room];
}

function axes() {
  const common = { stroke: colour("soft"), grid: { stroke: colour("grid"), width: 1 }, ticks: { stroke: colour("line"), width: 1, size: 5 }, font: "12px system-ui, sans-serif" };
  return [{ ...common, size: 30, space: 70, values: (u, marks, a, b, step) => marks.map((m) => `${number(m / 1000, decimals(step / 1000))} s`) },
    { ...common, size: kGutter, values: (u, marks, a, b, step) => marks.map((m) => `${number(m, decimals(step))} µs`) }];
}

/** Stretches that the verdict rests on, behind everything else. */
function shade(spans) {
  return (u) => {
    u.ctx.save();
    u.ctx.fillStyle = colour("fail");
    u.ctx.globalAlpha = 0.1;
    for (const [from, to] of spans) {
      const a = Math.max(u.bbox.left, u.valToPos(from, "x", true)), b = Math.min(u.bbox.left + u.bbox.width, u.valToPos(to, "x", true));
      if (b > a) u.ctx.fillRect(a, u.bbox.top, Math.max(2, b - a), u.bbox.height);
    }
    u.ctx.restore();
  };
}

function plot(heading, keys, data, series, bands, height, options, floor) {
  const room = h("div", { class: "plot", "aria-hidden": "true" });
  const element = h("figure", {}, h("figcaption", {}, h("span", {}, heading), keys.map(([kind, word, tone]) => {
    const key = h("i", { class: `swatch ${kind}` });
    key.style.setProperty("--tone", tone);
    return h("span", { class: "legend" }, key, word);
  })), room);
  let u = null, watch = null;
  const y = scaleOf(data.slice(1).flat(), floor);
  const make = () => new uPlot({
    width: room.clientWidth, height, padding: [8, kRight, 0, 0], legend: { show: false }, axes: axes(), bands,
    scales: { x: { time: false, range: () => [options.from, options.to] }, y: { range: () => y } },
    cursor: { drag: { x: true, y: false, setScale: false }, sync: { key: options.sync }, points: { size: 7 },
      bind: { dblclick: () => () => (options.whole(), null) } },
    series: [{}, ...series],
    hooks: {
      drawClear: [shade(options.failing)],
      setCursor: [(p) => p.cursor.event && options.cursor(p.cursor.idx === null || p.cursor.left < 0 ? null : p.posToVal(p.cursor.left, "x"))],
      setSelect: [(p) => {
        // Every plot of the stack hears of a selection; the one under the pointer acts on it.
        if (p.select.width < 3 || !p.cursor.event) return;
        const from = p.posToVal(p.select.left, "x"), to = p.posToVal(p.select.left + p.select.width, "x");
        p.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
        options.go(from, to);
      }],
    },
  }, data, room);
  return {
    element,
    attach() {
      u = make();
      watch = new ResizeObserver(() => u && room.clientWidth !== u.width && u.setSize({ width: room.clientWidth, height }));
      watch.observe(room);
    },
    close() {
      watch?.disconnect();
      u?.destroy();
      u = null;
    },
  };
}

const points = (tone, dense) => ({ show: !dense, size: 5, fill: tone, stroke: tone });

export function stickPlot(lines, options) {
  const data = lines.length ? joined(lines.map((line) => columns(line.pulses, line.silent, 1))) : [[], []];
  const series = lines.map((line, i) => {
    const tone = colourOf(line, i);
    return { stroke: tone, width: 1.6, dash: i ? [7, 3] : undefined, points: points(tone, line.pulses.length > 150) };
  });
  const keys = lines.map((line, i) => [i ? "dashed" : "line", line.name, colourOf(line, i)]);
  return plot("Sticks, pulse width in µs", keys, data, series, [], 150, options, 200);
}

/**
 * One output with its band. Also gives name, held (is there a band) and outside (how many pulses are marked as not within it). Marked is only
 * what the verdict rests on: a check may let a width pass that the band does not hold, as it judges means, or not until the sticks rest.
 */
export function outputPlot(line, band, i, options) {
  const tone = colourOf(line, i), bad = colour("fail");
  const judged = (ms) => options.tolerances.some((s) => s.tolerance_us !== null && ms >= s.from_ms && ms <= s.to_ms) && within(options.failing, ms);
  const allowed = new Map(band.map(([ms, low, high]) => [ms, [low, high]]));
  const wrong = line.pulses.filter(([ms, us]) => allowed.has(ms) && (us < allowed.get(ms)[0] || us > allowed.get(ms)[1]) && judged(ms));
  const data = joined([columns(band, gaps(band), 2), columns(line.pulses, line.silent, 1), [wrong.map(([ms]) => ms), wrong.map(([, us]) => us)]]);
  const edge = { stroke: colour("pass"), width: 1, points: { show: false } };
  const series = [edge, edge, { stroke: tone, width: 1.6, points: points(tone, line.pulses.length > 150) },
    { stroke: bad, width: 0, paths: () => null, points: { show: true, size: 8, fill: bad, stroke: bad } }];
  const keys = [["line", "measured", tone], ...(band.length ? [["area", allowance(options.tolerances), colour("band")]] : []), ...(wrong.length ? [["dot", "outside", bad]] : [])];
  const made = plot(`${line.name}, pulse width in µs`, keys, data, series, [{ series: [2, 1], fill: colour("band") }], 190, options, kLeastSpanUs);
  return { ...made, name: line.name, held: band.length > 0, outside: wrong.length };
}
