// Runs as a table, the same on Tonight and Runs.

import { h } from "../dom.js";
import { exactly, micro, took, when } from "../words.js";
import { runBadge } from "./verdict.js";
import { table } from "./table.js";

const kColumns = [{ head: "Run", kind: "whole" }, { head: "Verdict", kind: "whole" }, { head: "Began", kind: "whole" }, { head: "Controller and build", kind: "mid" },
  { head: "Plan and bench", kind: "mid" }, { head: "In short", kind: "wide" }];

function row(run) {
  const length = run.ended ? took(new Date(run.ended) - new Date(run.began)) : null;
  return [
    h("a", { href: `#/runs/${run.id}`, "data-key": `run-${run.id}` }, `Run ${run.id}`),
    runBadge(run),
    [h("time", { datetime: run.began, title: exactly(run.began) }, when(run.began)), length ? h("span", { class: "sub" }, `took ${length}`) : null],
    [run.controller, run.build ? h("span", { class: "sub" }, run.build) : null],
    [run.plan, h("span", { class: "sub" }, run.bench)],
    run.state === "running" ? h("a", { href: `#/bench/${encodeURIComponent(run.bench)}` }, "Watch it live") : micro(run.summary),
  ];
}

export const runTable = (caption, runs) => table(caption, kColumns, runs.map(row));
