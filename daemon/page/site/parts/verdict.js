// Verdicts as shape, colour and word, so that none of the three is needed alone.

import { h, svg } from "../dom.js";

const kShapes = {
  pass: [["circle", { cx: 10, cy: 10, r: 8.5 }], ["path", { d: "M6 10.5l3 3 5.5-6.5" }]],
  fail: [["path", { d: "M6.5 1.5h7l5 5v7l-5 5h-7l-5-5v-7z" }], ["path", { d: "M6.5 6.5l7 7m0-7l-7 7" }]],
  inconclusive: [["path", { d: "M10 .8l9.2 9.2-9.2 9.2L.8 10z" }], ["path", { d: "M7.6 8c0-3.3 4.8-3 4.8-.3 0 1.8-2.4 1.8-2.4 3.8m0 2.2v.6" }]],
  running: [["circle", { cx: 10, cy: 10, r: 8.5 }], ["path", { d: "M8 6.5l5.5 3.5L8 13.5z" }]],
  none: [["circle", { cx: 10, cy: 10, r: 8.5, "stroke-dasharray": "3 3" }]],
};
const kWords = { pass: "Pass", fail: "Fail", inconclusive: "Inconclusive", running: "Running", "not run": "Not run", "not-run": "Not run" };

export function badge(verdict, word = kWords[verdict] ?? verdict) {
  const kind = kShapes[verdict] ? verdict : "none";
  const shapes = kShapes[kind].map(([tag, properties]) => svg(tag, properties));
  return h("span", { class: `badge ${kind}` }, svg("svg", { viewBox: "0 0 20 20", "aria-hidden": "true" }, shapes), word);
}

/** Of a Run: its verdict, or why it has none. */
export function runBadge(run) {
  if (run.state === "running") return badge("running");
  if (run.state === "complete" && run.verdict) return badge(run.verdict);
  const word = { incomplete: "Cut short", interrupted: "Interrupted", error: "Not played" }[run.state] ?? run.state;
  return badge(run.verdict === "fail" ? "fail" : "none", run.verdict === "fail" ? "Fail, cut short" : word);
}
