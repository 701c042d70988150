// One check of a run: verdict, the number that decided, cause, evidence to zoom into, and its script to play again.

import { Problem, address, get } from "../api.js";
import { h } from "../dom.js";
import { evidence } from "../parts/evidence.js";
import { keep } from "../parts/keep.js";
import { replay } from "../parts/replay.js";
import { table } from "../parts/table.js";
import { title } from "../parts/title.js";
import { badge } from "../parts/verdict.js";
import { count, limits, micro, number, reading } from "../words.js";
import { downloads } from "./run.js";

const here = (run, check) => `#/runs/${run}/check/${encodeURIComponent(check)}`;

/** To the next check that did not pass, so that a bad night is read without going back each time. */
function neighbours(run, list, name) {
  const bad = list.filter((c) => c.verdict === "fail" || c.verdict === "inconclusive");
  const at = list.findIndex((c) => c.name === name);
  const before = bad.filter((c) => list.indexOf(c) < at).at(-1), after = bad.find((c) => list.indexOf(c) > at);
  if (!before && !after) return null;
  return h("nav", { class: "pager", "aria-label": "Checks that did not pass" },
    before ? h("a", { class: "button", href: here(run.id, before.name) }, `\u2190 ${before.name}`) : null,
    after ? h("a", { class: "button", href: here(run.id, after.name) }, `${after.name} \u2192`) : null);
}

function causes(check, told) {
  if (check.verdict !== "fail") return null;
  const list = told?.causes ?? [];
  if (list.length === 0) return h("p", {}, check.cause ? ["Consistent with: ", micro(check.cause)] : "No known cause fits the evidence.");
  return [h("p", {}, "Consistent with, likeliest first; a hint, no proof:"),
    h("ol", { class: "causes" }, list.map((c) => h("li", {}, micro(c.text), c.reason ? h("span", { class: "note" }, ` (${micro(c.reason)})`) : null)))];
}

const decided = (told) => (!told || !told.samples ? null : h("dl", { class: "facts" },
  [["Measured", reading(told)], ["Limit", limits(told.limit, told.unit)], ["Samples", told.samples],
    ["Board time", told.board_ms === null ? "none" : `${number(told.board_ms / 1000, 1)} s`]].map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))));

function measures(told) {
  if (!told?.measures?.length) return null;
  const columns = [{ head: "What", kind: "mid" }, { head: "Verdict", kind: "whole" }, { head: "Measured", kind: "whole" }, { head: "Limit", kind: "whole" }, { head: "Samples", kind: "num" }, { head: "Note", kind: "wide" }];
  return h("section", { "aria-labelledby": "measures" }, h("h2", { id: "measures" }, "Every number of this check"),
    table(`${count(told.measures.length, "number")}, each with its uncertainty (95 %)`, columns,
      told.measures.map((m) => [m.name, badge(m.verdict), reading(m), limits(m.limit, m.unit), m.samples, micro(m.note)])));
}

function script(run, check, again) {
  if (!check.script) return h("p", { class: "note" }, "This check has no script of its own; play the whole run again instead.");
  const path = `runs/${run.id}/scripts/${encodeURIComponent(check.name)}`, name = `run-${run.id}-${check.name}.json`;
  const box = h("pre", { tabindex: "0", "aria-label": "Stick script" });
  const read = async () => {
    if (box.hasChildNodes()) return;
    box.textContent = await get(path).then((sticks) => JSON.stringify(sticks, null, 1), (error) => `Not to be had: ${error.message}`);
  };
  return [again.element({ run, check: check.name, label: "Replay this check" }),
    h("details", { ontoggle: read }, h("summary", {}, "Show the stick script"), box),
    h("p", {}, h("a", { href: address(path), download: name }, "Download the script"))];
}

export function open(main, { parts: [id, name] }) {
  const box = h("div", {}), plots = h("div", {}), below = h("div", {});
  main.append(h("p", { class: "crumbs" }, h("a", { href: "#/runs" }, "Runs"), " / ", h("a", { href: `#/runs/${id}` }, `Run ${id}`)), title(name), box, plots, below);
  const again = replay();
  let plot = null;
  const ask = async (signal) => {
    const [run, list] = await Promise.all([get(`runs/${id}`, {}, signal), get(`runs/${id}/checks`, {}, signal)]);
    const check = list.find((c) => c.name === name);
    if (!check) throw new Problem(404, { detail: `run ${id} has no check named "${name}"` });
    const report = await get(`runs/${id}/report`, {}, signal).catch(() => null);
    return { run, list, check, told: report?.checks?.find((c) => c.name === name) ?? null };
  };
  const draw = ({ run, list, check, told }) => {
    plot ??= run.evidence && check.verdict !== "not run" && check.verdict !== "not-run" ? evidence(run.id, check.name, told?.evidence ?? []) : { close() {}, element: null };
    if (plot.element && !plot.element.isConnected) plots.append(h("section", { "aria-labelledby": "evidence" }, h("h2", { id: "evidence" }, "Evidence"), plot.element));
    else if (!run.evidence && !plots.hasChildNodes()) plots.append(h("p", { class: "empty-note" }, "The capture of this run was dropped to save room; verdict and numbers stay."));
    below.replaceChildren(measures(told) ?? "", h("div", { class: "columns" },
      h("section", { "aria-labelledby": "script" }, h("h2", { id: "script" }, "Play it again"), script(run, check, again)),
      h("section", { "aria-labelledby": "files" }, h("h2", { id: "files" }, `Downloads of run ${run.id}`), downloads(run))));
    return [h("div", { class: `verdict ${["pass", "fail", "inconclusive"].includes(check.verdict) ? check.verdict : "none"}` },
      h("p", { class: "big" }, badge(check.verdict), check.quarantined ? [" ", h("span", { class: "tag warn" }, "flaky, set aside: does not decide the run")] : null),
      h("p", { class: "lead" }, micro(check.summary)), causes(check, told), decided(told), neighbours(run, list, name))];
  };
  const kept = keep(box, [], ask, draw);
  return () => {
    kept.close();
    plot?.close();
  };
}
