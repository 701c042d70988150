// A strip of one line's pulses: needles from neutral to each pulse's width, written from left to right and over again, so that nothing on it
// moves but the pen. Times are the board's.

import { h } from "../dom.js";
import { number } from "../words.js";
import { colour } from "./plots.js";

const kWindowMs = 4000, kPenGapMs = 160, kLow = 950, kHigh = 2050, kNeutral = 1500;

export class PulseStrip {
  #pulses = []; ///< [ms, us] of the last window
  #canvas = h("canvas", { "aria-hidden": "true" });
  #value = h("span", { class: "value mono" });
  #tone;
  #watch;

  constructor(line) {
    this.#tone = ["throttle", "steering", "left", "right"].includes(line.name) ? line.name : line.side === "stick" ? "steering" : "left";
    this.element = h("div", { class: "pulse-strip", "data-line": line.name }, h("div", { class: "label" }, h("span", { class: `key ${this.#tone}` }, line.name), this.#value), this.#canvas);
    this.#watch = new ResizeObserver(() => this.redraw());
    this.#watch.observe(this.#canvas);
  }

  take(line) {
    this.#value.textContent = line.us === null ? "no pulse" : `${number(line.us, 1)} µs`;
    this.#value.classList.toggle("lost", line.us === null);
    // A new run begins at zero again.
    if (line.pulses.length && this.#pulses.length && line.pulses[0][0] < this.#pulses.at(-1)[0]) this.#pulses = [];
    this.#pulses.push(...line.pulses);
    const oldest = (this.#pulses.at(-1)?.[0] ?? 0) - kWindowMs + kPenGapMs;
    this.#pulses = this.#pulses.filter(([ms]) => ms >= oldest);
    this.redraw();
  }

  redraw() {
    const canvas = this.#canvas, scale = devicePixelRatio || 1, width = canvas.clientWidth, height = canvas.clientHeight;
    if (!width) return;
    if (canvas.width !== Math.round(width * scale) || canvas.height !== Math.round(height * scale)) {
      canvas.width = Math.round(width * scale);
      canvas.height = Math.round(height * scale);
    }
    const pen = canvas.getContext("2d"), y = (us) => height - ((Math.min(kHigh, Math.max(kLow, us)) - kLow) / (kHigh - kLow)) * height;
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.clearRect(0, 0, width, height);
    this.#grid(pen, width, y);
    pen.strokeStyle = pen.fillStyle = colour(this.#tone);
    pen.lineWidth = Math.max(1, Math.min(2, width / 400));
    const neutral = y(kNeutral);
    pen.beginPath();
    for (const [ms, us] of this.#pulses) {
      const x = ((ms % kWindowMs) / kWindowMs) * width;
      pen.moveTo(x, neutral), pen.lineTo(x, y(us));
    }
    pen.stroke();
    for (const [ms, us] of this.#pulses) pen.fillRect(((ms % kWindowMs) / kWindowMs) * width - 1.25, y(us) - 1.25, 2.5, 2.5);
    if (this.#pulses.length) {
      pen.fillStyle = colour("brass");
      pen.fillRect(((this.#pulses.at(-1)[0] % kWindowMs) / kWindowMs) * width + 3, 0, 2, height);
    }
  }

  #grid(pen, width, y) {
    pen.lineWidth = 1;
    for (const [us, tone] of [[1000, "grid"], [2000, "grid"], [kNeutral, "centre"]]) {
      pen.strokeStyle = colour(tone);
      pen.beginPath();
      pen.moveTo(0, Math.round(y(us)) + 0.5), pen.lineTo(width, Math.round(y(us)) + 0.5);
      pen.stroke();
    }
  }
}
