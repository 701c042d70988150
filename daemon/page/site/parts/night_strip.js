// The night as a strip: runs as blocks where they were, taller the worse they ended; coming nights as open marks. The tables say the same in words.

import { h, svg } from "../dom.js";

const kHour = 3_600_000, kAheadMs = 12 * kHour, kBase = 46, kEdge = 1, kLetters = 22;
const kHigh = { fail: 36, inconclusive: 27, running: 27 };

function hours(from, to, x, width) {
  const first = new Date(from);
  first.setMinutes(60, 0, 0);
  const every = width < 500 ? 6 : 3, out = [];
  for (let at = first.getTime(); at < to; at += kHour) {
    const hour = new Date(at).getHours(), major = hour % every === 0;
    out.push(svg("line", { class: "tick", x1: x(at), x2: x(at), y1: kBase, y2: kBase + (major ? 11 : 5) }));
    if (major && x(at) > kLetters && x(at) < width - kLetters) out.push(svg("text", { x: x(at), y: kBase + 27 }, `${String(hour).padStart(2, "0")}:00`));
  }
  return out;
}

function draw(t, width) {
  const from = Date.parse(t.since), now = Date.now(), to = now + kAheadMs;
  const x = (ms) => kEdge + ((Math.min(to, Math.max(from, ms)) - from) / (to - from)) * (width - 2 * kEdge);
  const blocks = t.runs.map((run) => {
    const kind = run.state === "running" ? "running" : run.verdict || "none", high = kHigh[kind] ?? 18;
    const a = x(Date.parse(run.began)), b = x(run.ended ? Date.parse(run.ended) : now);
    return svg("rect", { class: `block ${kind}`, x: a, width: Math.max(5, b - a), y: kBase - high, height: high });
  });
  const coming = t.nights.map((n) => Date.parse(n.next)).filter((at) => at < to).map((at) => svg("path", { class: "coming", d: `M${x(at)} ${kBase - 2}l-6-12h12z` }));
  return svg("svg", { width, height: 82, viewBox: `0 0 ${width} 82` },
    svg("rect", { class: "ahead", x: x(now), y: 0, width: width - x(now) - kEdge, height: kBase }), svg("line", { class: "base", x1: kEdge, x2: width - kEdge, y1: kBase, y2: kBase }),
    hours(from, to, x, width), blocks, coming, svg("line", { class: "now", x1: x(now), x2: x(now), y1: 0, y2: kBase + 11 }), svg("text", { class: "now-word", x: x(now) + 6, y: 12 }, "now"));
}

export function nightStrip(t) {
  const room = h("div", { class: "strip", "aria-hidden": "true" });
  // Ends by itself: a room that has left the page is watched no longer.
  const watch = new ResizeObserver(() => {
    if (!room.isConnected) watch.disconnect();
    else if (room.clientWidth > kLetters) room.replaceChildren(draw(t, room.clientWidth));
  });
  watch.observe(room);
  return room;
}
