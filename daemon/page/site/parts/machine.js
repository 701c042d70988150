// The transmitter's stick and the machine's two tracks, as drawings with their numbers beside them. Both are drawn on a scale of 1000 to
// 2000 us with neutral at 1500 us, whatever ends the mixer spec gives them; widths beyond the scale stand at its end.

import { h, svg } from "../dom.js";
import { number } from "../words.js";

const kNeutral = 1500, kHalf = 500, kBeyond = 1.2;
const share = (us) => (us === null || us === undefined ? null : Math.max(-kBeyond, Math.min(kBeyond, (us - kNeutral) / kHalf)));

/** "+62 %", with neutral as 0 % and 2000 us as 100 %; a width beyond the scale, such as a stray pulse, is no command and stands at its end. */
const percent = (us) => (us === null || us === undefined ? "no pulse" : `${us > kNeutral + 2.5 ? "+" : ""}${number(Math.abs(us - kNeutral) < 2.5 ? 0 : share(us) * 100, 0)} %`);
const width = (us) => (us === null || us === undefined ? "" : `${number(us, 1)} µs${Math.abs(us - kNeutral) > kBeyond * kHalf ? ", outside" : ""}`);

function readout(name, key) {
  const value = h("span", { class: "value" }, "\u2013"), us = h("span", { class: "us" });
  return { element: h("div", { class: `readout ${key}`, "data-readout": key }, h("span", { class: "name" }, name), value, us), set: (line) => {
    value.textContent = line ? percent(line.us) : "\u2013";
    us.textContent = line ? width(line.us) : "";
  }, rename: (text) => (value.parentElement.firstChild.textContent = text) };
}

const pick = (lines, name, i) => lines.find((l) => l.name === name) ?? lines.filter((l) => !["throttle", "steering", "left", "right"].includes(l.name))[i] ?? null;

export function stickDrawing() {
  const shaft = svg("line", { class: "shaft", x1: 100, y1: 100, x2: 100, y2: 100 }), knob = svg("circle", { class: "knob", cx: 100, cy: 100, r: 15 });
  const marks = [-80, -40, 40, 80].map((d) => [svg("line", { x1: 100 + d, x2: 100 + d, y1: 95, y2: 105 }), svg("line", { y1: 100 + d, y2: 100 + d, x1: 95, x2: 105 })]);
  const throttle = readout("Throttle", "throttle"), steering = readout("Steering", "steering");
  const element = h("figure", { class: "drawing" }, h("figcaption", {}, h("span", {}, "Stick")),
    h("div", { class: "pair" }, svg("svg", { class: "stick", viewBox: "0 0 200 200", role: "img", "aria-label": "Stick: throttle up and down, steering left and right" },
      svg("rect", { class: "gate", x: 4, y: 4, width: 192, height: 192, rx: 14 }), svg("g", { class: "marks" }, svg("line", { x1: 100, x2: 100, y1: 16, y2: 184 }), svg("line", { x1: 16, x2: 184, y1: 100, y2: 100 }), marks), shaft, knob),
      h("div", { class: "readouts" }, throttle.element, steering.element)));
  return { element, take(lines) {
    const t = pick(lines, "throttle", 0), s = pick(lines, "steering", 1);
    throttle.set(t), steering.set(s);
    const x = 100 + (share(s?.us) ?? 0) * 80, y = 100 - (share(t?.us) ?? 0) * 80;
    for (const [part, names] of [[shaft, ["x2", "y2"]], [knob, ["cx", "cy"]]]) part.setAttribute(names[0], x), part.setAttribute(names[1], y);
    knob.classList.toggle("lost", share(s?.us) === null || share(t?.us) === null);
  } };
}

function track(x, key) {
  const bar = svg("rect", { class: `fill ${key}`, x: x + 5, y: 100, width: 34, height: 0 }), edge = svg("line", { class: `edge ${key}`, x1: x + 1, x2: x + 43, y1: 100, y2: 100 });
  const treads = Array.from({ length: 11 }, (_, i) => svg("line", { class: "tread", x1: x, x2: x + 44, y1: 14 + i * 17.2, y2: 14 + i * 17.2 }));
  const element = svg("g", {}, svg("rect", { class: "belt", x, y: 6, width: 44, height: 188, rx: 10 }), treads, bar, svg("line", { class: "neutral", x1: x - 5, x2: x + 49, y1: 100, y2: 100 }), edge);
  return { element, set(us) {
    const part = share(us), size = Math.min(1, Math.abs(part ?? 0)) * 88;
    bar.setAttribute("y", (part ?? 0) > 0 ? 100 - size : 100);
    bar.setAttribute("height", size);
    const y = 100 - Math.sign(part ?? 0) * size;
    edge.setAttribute("y1", y), edge.setAttribute("y2", y);
    element.classList.toggle("lost", part === null);
  } };
}

export function trackDrawing() {
  const left = track(12, "left"), right = track(144, "right"), leftValue = readout("Left track", "left"), rightValue = readout("Right track", "right");
  const element = h("figure", { class: "drawing" }, h("figcaption", {}, h("span", {}, "Tracks, commanded speed")),
    h("div", { class: "pair" }, svg("svg", { class: "tracks", viewBox: "0 0 200 200", role: "img", "aria-label": "Machine from above: left and right track, forward is up" },
      svg("path", { class: "hull", d: "M62 36q0-14 14-14h48q14 0 14 14v128q0 14-14 14H76q-14 0-14-14z" }), svg("path", { class: "nose", d: "M84 44l16-12 16 12" }), left.element, right.element),
      h("div", { class: "readouts" }, leftValue.element, rightValue.element)));
  return { element, take(lines) {
    const l = pick(lines, "left", 0), r = pick(lines, "right", 1);
    left.set(l?.us), right.set(r?.us), leftValue.set(l), rightValue.set(r);
  } };
}
