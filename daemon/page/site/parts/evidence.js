// Evidence of a check to zoom into: sticks, outputs with the band that the mixer spec allows, what was played, and the ESC's states, on one
// time axis. Drag over a plot to zoom, or use the buttons, or the keys while a plot has the focus: + - arrows 0 f.

import { get } from "../api.js";
import { h, show } from "../dom.js";
import { number, count } from "../words.js";
import { refusal } from "./keep.js";
import { lanes } from "./lanes.js";
import { outputPlot, stickPlot } from "./plots.js";
import { say } from "./say.js";
import { table } from "./table.js";

const kLeastMs = 20, kPoints = 2000, kAround = 0.25, kSettleMs = 120, kFirstMs = 15_000;

const seconds = (ms, span) => number(ms / 1000, span < 2000 ? 4 : span < 60_000 ? 2 : 1);

/** Of the report's failing spans: the first few that lie together, with some room around. */
function firstFailing(spans) {
  const failing = spans.filter((s) => s.failing).map((s) => [s.begin.us / 1000, s.end.us / 1000]).sort((a, b) => a[0] - b[0]);
  if (failing.length === 0) return null;
  const [from, to] = failing[0];
  const room = Math.max(400, (to - from) * kAround);
  return { from: Math.max(0, from - room), to: to + room, spans: failing };
}

function inSight(slice, outside) {
  const columns = [{ head: "Line" }, { head: "Pulses in sight", kind: "num" }, { head: "Narrowest", kind: "num" }, { head: "Widest", kind: "num" }, { head: "Outside the band", kind: "num" }];
  const rows = slice.lines.map((line) => {
    const widths = line.pulses.map(([, us]) => us);
    const low = widths.reduce((a, b) => Math.min(a, b), Infinity), high = widths.reduce((a, b) => Math.max(a, b), -Infinity);
    const bad = outside.get(line.name);
    return [h("span", { class: `key ${line.side}` }, line.name), line.thinned ? `${widths.length} of more` : widths.length, widths.length ? `${number(low, 1)} µs` : "none", widths.length ? `${number(high, 1)} µs` : "none",
      line.side === "stick" ? "" : bad === undefined ? "not held" : bad];
  });
  return table("What is in sight, in numbers", columns, rows);
}

export function evidence(run, check, spans) {
  const failing = firstFailing(spans);
  let whole = null, total = 0, view = null, timer = null, stop = new AbortController(), drawn = [];
  const readout = h("p", { class: "cursor mono", "aria-hidden": "true" }, "\u00a0");
  const range = h("p", { class: "range" });
  const note = h("p", { class: "note" });
  const stack = h("div", { class: "stack", tabindex: "0", role: "group", "aria-label": "Evidence plots. Plus and minus zoom, left and right move, 0 shows the whole check, F the failure.", onkeydown: key });
  const numbers = h("div", {});
  const button = (text, name, act) => h("button", { type: "button", "aria-label": name, title: name, onclick: act }, text);
  const jump = (text, act) => h("button", { type: "button", onclick: act }, text);
  const tools = h("div", { class: "row tools", role: "toolbar", "aria-label": "Zoom" }, button("+", "Zoom in", () => zoom(0.5)), button("\u2212", "Zoom out", () => zoom(2)),
    button("\u2190", "Earlier", () => pan(-0.5)), button("\u2192", "Later", () => pan(0.5)),
    failing ? jump("Failure", toFailure) : null, jump("Whole check", toCheck), jump("Whole run", () => go(0, total)));
  const element = h("div", { class: "evidence" }, tools, range, note, stack, readout, numbers);

  function go(from, to) {
    const span = Math.min(Math.max(kLeastMs, to - from), total || Infinity);
    const middle = (from + to) / 2;
    from = Math.max(0, Math.min(middle - span / 2, (total || Infinity) - span));
    view = { from, to: from + span };
    clearTimeout(timer);
    timer = setTimeout(load, kSettleMs);
  }
  const zoom = (by) => view && go((view.from + view.to) / 2 - ((view.to - view.from) * by) / 2, (view.from + view.to) / 2 + ((view.to - view.from) * by) / 2);
  const pan = (by) => view && go(view.from + (view.to - view.from) * by, view.to + (view.to - view.from) * by);
  function toFailure() { if (failing) go(failing.from, failing.to); }
  function toCheck() { if (whole) go(whole.from, whole.to); }

  function key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target !== stack) return;
    const act = { "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), ArrowLeft: () => pan(-0.25), ArrowRight: () => pan(0.25), 0: toCheck, f: toFailure, F: toFailure }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  async function load() {
    stop.abort();
    const mine = (stop = new AbortController());
    stack.setAttribute("aria-busy", "true");
    try {
      const slice = await get(`runs/${run}/pulses`, { from_ms: view.from, to_ms: view.to, points: kPoints }, mine.signal);
      if (!mine.signal.aborted) draw(slice);
    } catch (error) {
      if (!mine.signal.aborted) show(note, refusal(error));
    }
    if (mine === stop) stack.removeAttribute("aria-busy");
  }

  function draw(slice) {
    total = slice.total_ms;
    const span = slice.to_ms - slice.from_ms;
    range.textContent = `${seconds(slice.from_ms, span)} to ${seconds(slice.to_ms, span)} s of ${number(total / 1000, 1)} s`;
    element.dataset.from = slice.from_ms;
    element.dataset.to = slice.to_ms;
    const outputs = slice.lines.filter((l) => l.side === "output");
    const held = slice.expected.some((e) => e.band.length);
    const thinned = slice.lines.some((l) => l.thinned);
    show(note, [held ? "" : "What the mixer spec allows is drawn for shorter stretches: zoom in. ", thinned ? "Of the pulses, the narrowest and widest of each stretch are drawn." : ""]);
    drawn.forEach((d) => d.close());
    const cursor = (ms) => follow(slice, ms);
    const options = { from: slice.from_ms, to: slice.to_ms, go, cursor, whole: toCheck, failing: failing?.spans ?? [], sync: `run-${run}` };
    const sticks = stickPlot(slice.lines.filter((l) => l.side === "stick"), options);
    const plots = outputs.map((line, i) => outputPlot(line, slice.expected.find((e) => e.name === line.name)?.band ?? [], i, options));
    drawn = [sticks, ...plots, lanes(slice, check, options)];
    stack.replaceChildren(...drawn.map((d) => d.element));
    drawn.forEach((d) => d.attach());
    show(numbers, inSight(slice, new Map(plots.filter((p) => p.held).map((p) => [p.name, p.outside]))));
    say(`${range.textContent}. ${plots.filter((p) => p.held).map((p) => `${p.name}: ${count(p.outside, "pulse")} outside the band`).join(", ")}`);
  }

  function follow(slice, ms) {
    if (ms === null) return (readout.textContent = "\u00a0");
    const at = slice.lines.map((line) => {
      const pulse = line.pulses.findLast(([rise]) => rise <= ms);
      return `${line.name} ${pulse && ms - pulse[0] < 100 ? number(pulse[1], 1) + " µs" : "no pulse"}`;
    });
    const esc = slice.esc.map((e) => `${e.name} ESC ${e.states.findLast(([from]) => from <= ms)?.[1] ?? "?"}`);
    readout.textContent = [`${number(ms / 1000, 4)} s`, ...at, ...esc].join("   ");
  }

  // Where the check was played is only said by the run's own segments.
  (async () => {
    try {
      const all = await get(`runs/${run}/pulses`, { points: 10 }, stop.signal);
      total = all.total_ms;
      const mine = all.segments.filter((s) => s.check === check);
      whole = mine.length ? { from: mine[0].from_ms, to: Math.max(...mine.map((s) => s.to_ms)) } : { from: 0, to: total };
      if (failing) toFailure();
      else go(whole.from, Math.min(whole.to, whole.from + kFirstMs));
    } catch (error) {
      if (!stop.signal.aborted) show(note, refusal(error));
    }
  })();
  const redraw = () => view && load();
  addEventListener("theme", redraw);
  return {
    element,
    close() {
      removeEventListener("theme", redraw);
      clearTimeout(timer);
      stop.abort();
      drawn.forEach((d) => d.close());
    },
  };
}
