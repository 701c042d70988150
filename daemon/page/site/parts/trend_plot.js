// A metric over time: each night a point with its uncertainty, the tolerance band behind, the drift's beginning as a line.

import uPlot from "../vendor/uPlot.esm.js";
import { h } from "../dom.js";
import { number, unit } from "../words.js";
import { colour } from "./plots.js";
import { decimals, placed, timeMarks } from "./traces.js";

const kHigh = 320, kLetters = 18;
const shorten = (text) => (text.length > kLetters ? `${text.slice(0, kLetters - 1)}\u2026` : text);

/** When the drift began, if it names a run of the series ("run 31", "31") or a night ("... 2026-11-20"). */
function beginning(t) {
  if (!t.drift) return null;
  const run = /(?:^|run )(\d+)$/.exec(t.drift.began)?.[1], date = /\d{4}-\d{2}-\d{2}/.exec(t.drift.began)?.[0];
  const point = t.points.find((p) => String(p.run) === run) ?? t.points.find((p) => date && p.at >= date);
  return point ? new Date(point.at).getTime() / 1000 : null;
}

function behind(t) {
  return (u) => {
    const { ctx, bbox } = u, y = (v) => u.valToPos(v, "y", true);
    ctx.save();
    if (t.low !== null && t.high !== null) {
      ctx.fillStyle = colour("band");
      ctx.fillRect(bbox.left, y(t.high), bbox.width, y(t.low) - y(t.high));
    }
    if (t.centre !== null) {
      ctx.strokeStyle = colour("centre");
      ctx.lineWidth = devicePixelRatio;
      ctx.setLineDash([6, 4]);
      ctx.beginPath(), ctx.moveTo(bbox.left, y(t.centre)), ctx.lineTo(bbox.left + bbox.width, y(t.centre)), ctx.stroke();
    }
    ctx.restore();
  };
}

function before(t, began) {
  return (u) => {
    const { ctx, bbox } = u, px = devicePixelRatio;
    ctx.save();
    ctx.beginPath(), ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height), ctx.clip();
    ctx.strokeStyle = colour("left");
    ctx.lineWidth = 1.2 * px;
    for (const p of t.points) {
      if (!p.uncertainty) continue;
      const x = u.valToPos(new Date(p.at).getTime() / 1000, "x", true);
      ctx.beginPath(), ctx.moveTo(x, u.valToPos(p.value - p.uncertainty, "y", true)), ctx.lineTo(x, u.valToPos(p.value + p.uncertainty, "y", true)), ctx.stroke();
    }
    ctx.font = `${12 * px}px system-ui, sans-serif`;
    const line = (x, tone, dash) => {
      ctx.strokeStyle = tone;
      ctx.setLineDash(dash);
      ctx.beginPath(), ctx.moveTo(x, bbox.top), ctx.lineTo(x, bbox.top + bbox.height), ctx.stroke();
    };
    const words = (marks, rows, tone) => placed(marks, rows, 5 * px, bbox.left, bbox.left + bbox.width).forEach((place, i) => {
      if (place === null) return; // its line stands there, and the table names the build
      ctx.fillStyle = tone;
      ctx.textAlign = place.left ? "right" : "left";
      ctx.fillText(marks[i].word, marks[i].x + (place.left ? -5 : 5) * px, bbox.top + (14 + 16 * place.row) * px);
    });
    const marked = (at, word) => ({ x: Math.round(u.valToPos(at, "x", true)) + 0.5, word, width: ctx.measureText(word).width });
    const builds = t.points.filter((p, i) => i > 0 && p.build !== t.points[i - 1].build).map((p) => marked(new Date(p.at).getTime() / 1000, shorten(p.build || "no build named")));
    builds.forEach(({ x }) => line(x, colour("soft"), [3 * px, 4 * px]));
    words(builds, [0, 2], colour("soft"));
    if (began !== null) {
      const drift = marked(began, "drift began");
      line(drift.x, colour("fail"), []);
      words([drift], [1], colour("fail"));
    }
    ctx.restore();
  };
}

export function trendPlot(t) {
  const x = t.points.map((p) => new Date(p.at).getTime() / 1000), y = t.points.map((p) => p.value);
  const ends = t.points.flatMap((p) => [p.value - (p.uncertainty ?? 0), p.value + (p.uncertainty ?? 0)]).concat([t.low, t.high].filter((v) => v !== null));
  const low = Math.min(...ends), high = Math.max(...ends), room = Math.max((high - low) * 0.1, Math.abs(high) * 1e-4, 1e-6);
  const pad = x.length > 1 ? (x.at(-1) - x[0]) * 0.03 : 43_200;
  const readout = h("p", { class: "cursor mono", "aria-hidden": "true" }, "\u00a0");
  const box = h("div", { class: "plot", role: "img", "aria-label": `${t.metric} over ${t.points.length} nights; the numbers are in the table below` });
  const element = h("figure", {}, h("figcaption", {}, h("span", {}, `${t.metric}${unit(t.unit) ? `, ${unit(t.unit)}` : ""}`), t.low !== null ? h("span", { class: "legend" }, swatch(), "tolerance of the baseline") : null), box, readout);
  const axis = { stroke: colour("soft"), grid: { stroke: colour("grid"), width: 1 }, ticks: { stroke: colour("line"), width: 1, size: 5 }, font: "12px system-ui, sans-serif" };
  let u = null, watch = null;
  const make = () => new uPlot({
    width: box.clientWidth, height: kHigh, padding: [10, 24, 0, 0], legend: { show: false },
    axes: [{ ...axis, size: 46, values: (_, marks, a, b, step) => timeMarks(marks, step) },
      { ...axis, size: 88, values: (_, marks, a, b, step) => marks.map((m) => `${number(m, decimals(step))} ${unit(t.unit)}`.trim()) }],
    scales: { x: { time: true, range: () => [x[0] - pad, x.at(-1) + pad] }, y: { range: () => [low - room, high + room] } },
    cursor: { drag: { x: false, y: false } },
    series: [{}, { stroke: colour("left"), width: 1.2, points: { show: true, size: 6, fill: colour("card"), stroke: colour("left"), width: 2 } }],
    hooks: { drawClear: [behind(t)], draw: [before(t, beginning(t))], setCursor: [(p) => {
      const point = t.points[p.cursor.idx];
      readout.textContent = point && p.cursor.left >= 0 ? `run ${point.run}   ${new Date(point.at).toLocaleString()}   ${number(point.value, 3)} ${unit(t.unit)}   ${point.build}` : "\u00a0";
    }] },
  }, [x, y], box);
  return { element, attach() {
    u = make();
    watch = new ResizeObserver(() => u && box.clientWidth !== u.width && u.setSize({ width: box.clientWidth, height: kHigh }));
    watch.observe(box);
  }, close() {
    watch?.disconnect();
    u?.destroy();
    u = null;
  } };
}

function swatch() {
  const mark = h("i", { class: "swatch area" });
  mark.style.setProperty("--tone", colour("band"));
  return mark;
}
