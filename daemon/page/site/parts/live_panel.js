// The part of the bench's view that moves. Values are set in place, 20 times a second; nothing in here is read out by itself, but for the
// check being played, now and then.

import { h } from "../dom.js";
import { number, took } from "../words.js";
import { stickDrawing, trackDrawing } from "./machine.js";
import { PulseStrip } from "./pulse_strip.js";
import { say } from "./say.js";

const kRateOverMs = 2000, kStaleMs = 1500, kNewsEveryMs = 10_000;

export class LivePanel {
  #check = h("strong", { class: "check" });
  #where = h("span", { class: "note" });
  #bar = h("progress", { max: 1, value: 0, "aria-label": "Board time played" });
  #time = h("span", { class: "num" });
  #rate = h("span", { class: "num", "data-rate": "0" });
  #stick = stickDrawing();
  #tracks = trackDrawing();
  #strips = h("div", { class: "strips" });
  #byName = new Map();
  #heard = []; ///< when the messages of the last two seconds came
  #last = 0;
  #said = { check: "", at: 0 };

  constructor() {
    this.element = h("div", { class: "live" },
      h("div", { class: "playing" }, h("p", {}, this.#check, " ", this.#where), this.#bar, h("p", { class: "row note" }, this.#time, this.#rate)),
      h("div", { class: "drawings" }, this.#stick.element, this.#tracks.element), h("h2", {}, "Pulses"),
      h("p", { class: "note" }, "Each needle is one pulse, from neutral (1500 µs) to its width; 4 s of board time, written over from the left."), this.#strips);
  }

  /** A Live message of this bench. */
  take(message) {
    this.#heard.push((this.#last = performance.now()));
    this.#check.textContent = message.check || "Between checks";
    this.#where.textContent = message.segments ? `${message.segment} of ${message.segments}` : "";
    this.#bar.value = message.total_ms > 0 ? Math.min(1, message.done_ms / message.total_ms) : 0;
    this.#time.textContent = `${took(message.done_ms)} of ${took(message.total_ms)} board time`;
    this.#stick.take(message.lines.filter((l) => l.side === "stick"));
    this.#tracks.take(message.lines.filter((l) => l.side === "output"));
    for (const line of message.lines) this.#strip(line).take(line);
    this.#tell(message);
  }

  /** To be called a few times a second: says how fast messages come, or that they do not. */
  look(running) {
    const now = performance.now(), silent = now - this.#last;
    this.#heard = this.#heard.filter((at) => now - at < kRateOverMs);
    const rate = this.#heard.length / (kRateOverMs / 1000), stale = running && silent > kStaleMs;
    this.#rate.dataset.rate = rate;
    this.element.classList.toggle("stale", stale || !running);
    this.#rate.textContent = stale ? `No live message for ${number(silent / 1000, 0)} s: what is drawn is old`
      : running ? `${number(rate, 0)} updates a second` : "The run has ended; this is how it stood";
  }

  redraw() {
    for (const strip of this.#byName.values()) strip.redraw();
  }

  #strip(line) {
    const key = `${line.side} ${line.name}`;
    if (!this.#byName.has(key)) {
      this.#byName.set(key, new PulseStrip(line));
      this.#strips.append(this.#byName.get(key).element);
    }
    return this.#byName.get(key);
  }

  #tell({ check, segment, segments }) {
    const now = Date.now();
    if (!check || check === this.#said.check || now - this.#said.at < kNewsEveryMs) return;
    say(`Playing ${check}, ${segment} of ${segments}.`);
    this.#said = { check, at: now };
  }
}
