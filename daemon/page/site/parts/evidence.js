// Evidence of a check to zoom into: sticks, outputs with the band that the mixer spec allows, what was played, and the ESC's states, on one
// time axis. Drag over a plot to zoom, or use the buttons, or the keys while a plot has the focus: + - arrows 0 f.

import { Problem, get } from "../api.js";
import { h, show } from "../dom.js";
import { news, state } from "../state.js";
import { count, micro, number } from "../words.js";
import { refusal } from "./keep.js";
import { lanes } from "./lanes.js";
import { outputPlot, stickPlot } from "./plots.js";
import { say } from "./say.js";
import { table } from "./table.js";
import { kSilentMs } from "./traces.js";

const kLeastMs = 20, kPoints = 2000, kAround = 0.25, kLeastAroundMs = 400, kSettleMs = 120, kFirstMs = 15_000;

const seconds = (ms, span) => number(ms / 1000, span < 2000 ? 4 : span < 60_000 ? 2 : 1);

/** The report's failing spans, in their order of time: { from, to, label }, ms. */
const failures = (spans) => spans.filter((s) => s.failing).map((s) => ({ from: s.begin.us / 1000, to: s.end.us / 1000, label: s.label })).sort((a, b) => a.from - b.from);

function inSight(slice, outside) {
  const columns = [{ head: "Line" }, { head: "Pulses in sight", kind: "num" }, { head: "Narrowest", kind: "num" }, { head: "Widest", kind: "num" }, { head: "Marked outside", kind: "num" }];
  const rows = slice.lines.map((line) => {
    const widths = line.pulses.map(([, us]) => us);
    const low = widths.reduce((a, b) => Math.min(a, b), Infinity), high = widths.reduce((a, b) => Math.max(a, b), -Infinity);
    const bad = outside.get(line.name);
    return [h("span", { class: `key ${line.side}` }, line.name), line.thinned ? `${widths.length} of more` : widths.length, widths.length ? `${number(low, 1)} µs` : "none", widths.length ? `${number(high, 1)} µs` : "none",
      line.side === "stick" ? "" : bad === undefined ? "not held" : bad];
  });
  return table("What is in sight, in numbers", columns, rows);
}

class Evidence {
  #run;
  #check;
  #failing;
  #at = -1; ///< index of the failure last shown
  #whole = null; ///< { from, to } of the check
  #total = 0;
  #view = null; ///< { from, to } asked for
  #timer = null;
  #stop = new AbortController();
  #drawn = [];
  #failed = false; ///< asked last, and nothing came
  #redraw = () => this.#view && this.#load();
  #off = ["link", "health"].map((topic) => news.on(topic, () => this.#heard()));
  #readout = h("p", { class: "cursor mono", "aria-hidden": "true" }, "\u00a0");
  #range = h("p", { class: "range" });
  #which = h("p", { class: "note which" });
  #note = h("p", { class: "note" });
  #numbers = h("div", {});
  #stack = h("div", { class: "stack", tabindex: "0", role: "group", onkeydown: (event) => this.#key(event),
    "aria-label": "Evidence plots. Plus and minus zoom, left and right move, 0 shows the whole check, F the next failure." });

  constructor(run, check, spans) {
    this.#run = run;
    this.#check = check;
    this.#failing = failures(spans);
    this.element = h("div", { class: "evidence" }, this.#tools(), this.#range, this.#which, this.#note, this.#stack, this.#readout, this.#numbers);
    addEventListener("theme", this.#redraw);
    this.#begin();
  }

  close() {
    removeEventListener("theme", this.#redraw);
    this.#off.forEach((end) => end());
    clearTimeout(this.#timer);
    this.#stop.abort();
    this.#drawn.forEach((d) => d.close());
  }

  /** The daemon is back, or its store: what failed is asked again. */
  #heard() {
    if (!this.#failed || state.link === "lost") return;
    this.#failed = false;
    if (this.#view) this.#load();
    else this.#begin();
  }

  #refuse(error) {
    this.#failed = !(error instanceof Problem) || error.status >= 500;
    show(this.#note, refusal(error), error.message);
  }

  #tools() {
    const button = (text, name, act) => h("button", { type: "button", "aria-label": name, title: name, onclick: act }, text);
    const jump = (text, act) => h("button", { type: "button", onclick: act }, text);
    return h("div", { class: "row tools", role: "toolbar", "aria-label": "Zoom" },
      button("+", "Zoom in", () => this.#zoom(0.5)), button("\u2212", "Zoom out", () => this.#zoom(2)), button("\u2190", "Earlier", () => this.#pan(-0.5)), button("\u2192", "Later", () => this.#pan(0.5)),
      this.#failing.length ? jump(this.#failing.length > 1 ? "Next failure" : "Failure", () => this.#toFailure()) : null,
      jump("Whole check", () => this.#toCheck()), jump("Whole run", () => this.#go(0, this.#total)));
  }

  /** Where the check was played is only said by the run's own segments. */
  async #begin() {
    try {
      const all = await get(`runs/${this.#run}/pulses`, { points: 10 }, this.#stop.signal);
      this.#total = all.total_ms;
      const mine = all.segments.filter((s) => s.check === this.#check);
      this.#whole = mine.length ? { from: mine[0].from_ms, to: Math.max(...mine.map((s) => s.to_ms)) } : { from: 0, to: this.#total };
      if (this.#failing.length) this.#toFailure();
      else this.#go(this.#whole.from, Math.min(this.#whole.to, this.#whole.from + kFirstMs));
    } catch (error) {
      if (!this.#stop.signal.aborted) this.#refuse(error);
    }
  }

  #go(from, to, name = "") {
    this.#which.textContent = name;
    const most = this.#total || Infinity, span = Math.min(Math.max(kLeastMs, to - from), most);
    const begin = Math.max(0, Math.min((from + to) / 2 - span / 2, most - span));
    this.#view = { from: begin, to: begin + span };
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#load(), kSettleMs);
  }

  /** Keeps to what one is looking at, so its name stays. */
  #zoom(by) {
    if (!this.#view) return;
    const { from, to } = this.#view, middle = (from + to) / 2, half = ((to - from) * by) / 2;
    this.#go(middle - half, middle + half, this.#which.textContent);
  }

  #pan(by) {
    if (!this.#view) return;
    const { from, to } = this.#view;
    this.#go(from + (to - from) * by, to + (to - from) * by);
  }

  #toFailure() {
    if (this.#failing.length === 0) return;
    const { from, to, label } = this.#failing[(this.#at = (this.#at + 1) % this.#failing.length)];
    const room = Math.max(kLeastAroundMs, (to - from) * kAround);
    this.#go(from - room, to + room, `Failure ${this.#at + 1} of ${this.#failing.length}${label ? `: ${micro(label)}` : ""}`);
  }

  #toCheck() {
    if (this.#whole) this.#go(this.#whole.from, this.#whole.to);
  }

  #key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target !== this.#stack) return;
    const act = { "+": () => this.#zoom(0.5), "=": () => this.#zoom(0.5), "-": () => this.#zoom(2), ArrowLeft: () => this.#pan(-0.25), ArrowRight: () => this.#pan(0.25),
      0: () => this.#toCheck(), f: () => this.#toFailure(), F: () => this.#toFailure() }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  async #load() {
    this.#stop.abort();
    const mine = (this.#stop = new AbortController());
    this.#stack.setAttribute("aria-busy", "true");
    try {
      const slice = await get(`runs/${this.#run}/pulses`, { from_ms: this.#view.from, to_ms: this.#view.to, points: kPoints }, mine.signal);
      if (!mine.signal.aborted) this.#draw(slice);
    } catch (error) {
      if (!mine.signal.aborted) this.#refuse(error);
    }
    if (mine === this.#stop) this.#stack.removeAttribute("aria-busy");
  }

  #draw(slice) {
    const span = slice.to_ms - slice.from_ms;
    this.#total = slice.total_ms;
    this.#range.textContent = `${seconds(slice.from_ms, span)} to ${seconds(slice.to_ms, span)} s of ${number(slice.total_ms / 1000, 1)} s`;
    this.element.dataset.from = slice.from_ms;
    this.element.dataset.to = slice.to_ms;
    delete this.#note.dataset.stamp;
    show(this.#note, [slice.expected.some((e) => e.band.length) ? "" : "What the mixer spec allows is drawn for shorter stretches: zoom in. ",
      slice.lines.some((l) => l.thinned) ? "Of the pulses, the narrowest and widest of each stretch are drawn." : ""]);
    this.#drawn.forEach((d) => d.close());
    const options = { from: slice.from_ms, to: slice.to_ms, go: (from, to) => this.#go(from, to), cursor: (ms) => this.#follow(slice, ms), whole: () => this.#toCheck(),
      failing: this.#failing.map(({ from, to }) => [from, to]), sync: `run-${this.#run}`, tolerances: slice.segments };
    const plots = slice.lines.filter((l) => l.side === "output").map((line, i) => outputPlot(line, slice.expected.find((e) => e.name === line.name)?.band ?? [], i, options));
    this.#drawn = [stickPlot(slice.lines.filter((l) => l.side === "stick"), options), ...plots, lanes(slice, this.#check, options)];
    this.#stack.replaceChildren(...this.#drawn.map((d) => d.element));
    this.#drawn.forEach((d) => d.attach());
    const held = plots.filter((p) => p.held);
    show(this.#numbers, inSight(slice, new Map(held.map((p) => [p.name, p.outside]))));
    say(`${this.#range.textContent}. ${held.map((p) => `${p.name}: ${count(p.outside, "pulse")} outside`).join(", ")}`);
  }

  /** What every line and ESC was at under the pointer. */
  #follow(slice, ms) {
    if (ms === null) return (this.#readout.textContent = "\u00a0");
    const at = slice.lines.map((line) => {
      const pulse = line.pulses.findLast(([rise]) => rise <= ms), silent = line.silent.some(([from, to]) => ms >= from + kSilentMs && ms < to);
      return `${line.name} ${pulse && !silent ? number(pulse[1], 1) + " µs" : "no pulse"}`;
    });
    const esc = slice.esc.map((e) => `${e.name} ESC ${e.states.findLast(([from]) => from <= ms)?.[1] ?? "?"}`);
    this.#readout.textContent = [`${number(ms / 1000, 4)} s`, ...at, ...esc].join("   ");
  }
}

/** { element, close } of the evidence of a run's check; `spans`: the report's evidence of it. */
export const evidence = (run, check, spans) => new Evidence(run, check, spans);
