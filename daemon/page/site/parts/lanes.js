// Two kinds of lanes below the plots, on the same time axis: which check was played, and in which state the ESC model is.

import { h, svg } from "../dom.js";
import { kGutter, kRight } from "./plots.js";

const kHigh = 26, kGap = 6, kLetterPx = 7.2;

const shorten = (text, room) => (room < kLetterPx * 2 ? "" : text.length * kLetterPx <= room ? text : text.slice(0, Math.max(1, Math.floor(room / kLetterPx) - 1)) + "\u2026");

function blocks(spans, from, to, width, y) {
  const x = (ms) => kGutter + ((Math.min(to, Math.max(from, ms)) - from) / (to - from)) * (width - kGutter - kRight);
  return spans.filter((s) => s.to > from && s.from < to).map((s) => {
    const a = x(s.from), b = x(s.to);
    return svg("g", {}, svg("title", {}, s.text), svg("rect", { class: `lane ${s.kind}`, x: a, y, width: Math.max(1, b - a), height: kHigh }),
      svg("text", { x: a + 6, y: y + 18 }, shorten(s.text, b - a - 12)));
  });
}

export function lanes(slice, check, { from, to }) {
  const rows = [["played", slice.segments.map((s) => ({ from: s.from_ms, to: s.to_ms, text: s.check, kind: s.check === check ? "mine" : "" }))],
    ...slice.esc.map((e) => [`${e.name} ESC`, e.states.map(([at, state], i) => ({ from: at, to: e.states[i + 1]?.[0] ?? to, text: String(state).replaceAll("_", " "), kind: String(state).replaceAll(" ", "-") }))])];
  const room = h("div", { class: "lanes", "aria-hidden": "true" });
  const said = rows.slice(1).map(([name, spans]) => `${name}: ${spans.map((s) => s.text).join(", then ")}`).join(". ");
  const element = h("figure", {}, h("figcaption", {}, h("span", {}, slice.esc.length ? "Check played, and the ESC's state by its model" : "Check played")), room, said ? h("p", { class: "hidden" }, said) : null);
  const draw = () => {
    const width = room.clientWidth, height = rows.length * (kHigh + kGap);
    room.replaceChildren(svg("svg", { width, height, viewBox: `0 0 ${width} ${height}` }, rows.map(([name, spans], i) => {
      const y = i * (kHigh + kGap);
      return [svg("text", { class: "name", x: kGutter - 8, y: y + 18 }, name), blocks(spans, from, to, width, y)];
    })));
  };
  const watch = new ResizeObserver(draw);
  return { element, attach: () => (draw(), watch.observe(room)), close: () => watch.disconnect() };
}
