// One run: verdict, facts, its checks, what can be downloaded, and playing it again.

import { address, get } from "../api.js";
import { h } from "../dom.js";
import { keep } from "../parts/keep.js";
import { replay } from "../parts/replay.js";
import { table } from "../parts/table.js";
import { title } from "../parts/title.js";
import { badge, runBadge } from "../parts/verdict.js";
import { bytes, count, exactly, limits, micro, reading, took } from "../words.js";

const kFiles = [["report.html", "Report to read"], ["report.json", "Report for programs"], ["junit.xml", "JUnit results"], ["capture.vcd", "Pulses for a wave viewer"],
  ["capture.json", "Whole capture"], ["plan.json", "Plan as it was played"]];
const kEvidence = ["capture.vcd", "capture.json"];

const fact = (name, value) => h("div", {}, h("dt", {}, name), h("dd", {}, value));

function head(run) {
  const first = run.verdict && run.state === "complete" ? run.verdict : run.state === "running" ? "running" : run.verdict === "fail" ? "fail" : "none";
  return h("div", { class: `verdict ${first}` },
    h("p", { class: "big" }, runBadge(run)),
    run.summary ? h("p", { class: "lead" }, micro(run.summary)) : null,
    run.state === "running" ? h("p", {}, h("a", { href: `#/bench/${encodeURIComponent(run.bench)}` }, "Watch it live")) : null,
    run.cause ? h("p", {}, "The first failing check is consistent with: ", micro(run.cause)) : null,
    h("dl", { class: "facts" }, fact("Plan", run.plan), fact("Controller", run.controller), fact("Build", run.build || "not named"), fact("Bench", run.bench),
      fact("Began", h("time", { datetime: run.began }, exactly(run.began))), run.ended ? fact("Took", took(new Date(run.ended) - new Date(run.began))) : null,
      fact("Job", h("a", { href: "#/plans" }, run.job)), fact("Kept on disk", `${bytes(run.bytes)}${run.evidence ? "" : ", capture dropped to save room"}`)));
}

function checkRow(run, check, measured) {
  const m = measured.get(check.name);
  return [
    h("a", { href: `#/runs/${run.id}/check/${encodeURIComponent(check.name)}`, "data-key": `check-${check.name}` }, check.name),
    [badge(check.verdict), check.quarantined ? h("span", { class: "sub" }, "flaky, set aside") : null],
    m && m.samples ? reading(m) : "",
    m && m.samples ? limits(m.limit, m.unit) : "",
    micro(check.summary),
  ];
}

function checks(run, list, report) {
  if (list.length === 0) return h("p", { class: "empty-note" }, run.state === "running" ? "Judged when the run has ended." : "This run has no judged check.");
  const measured = new Map((report?.checks ?? []).map((c) => [c.name, c]));
  const rank = { fail: 0, inconclusive: 1 };
  const bad = list.filter((c) => c.verdict in rank).sort((a, b) => rank[a.verdict] - rank[b.verdict]), rest = list.filter((c) => !(c.verdict in rank));
  const columns = [{ head: "Check", kind: "mid" }, { head: "Verdict", kind: "whole" }, { head: "Measured", kind: "whole" }, { head: "Limit", kind: "whole" }, { head: "In short", kind: "wide" }];
  const part = (caption, some) => table(caption, columns, some.map((c) => checkRow(run, c, measured)));
  if (bad.length === 0) return part(`${count(rest.length, "check")}, as played`, rest);
  // What passed is a long list: on a phone it is folded away.
  return [part(`${count(bad.length, "check")} of ${list.length} did not pass`, bad),
    rest.length ? h("details", { class: "rest", open: innerWidth > 800 }, h("summary", {}, `${count(rest.length, "check")} passed or not run`), part("As played", rest)) : null];
}

export function downloads(run) {
  return h("ul", {}, kFiles.filter(([name]) => run.evidence || !kEvidence.includes(name)).map(([name, what]) => {
    const path = `runs/${run.id}/files/${name}`;
    const link = h("a", { href: address(path), download: name === "report.html" ? null : `run-${run.id}-${name}`, target: name === "report.html" ? "_blank" : null, rel: "noopener" }, name);
    return h("li", {}, link, ` \u2013 ${what}`);
  }));
}

export function open(main, { parts: [id] }) {
  const box = h("div", {});
  main.append(h("p", { class: "crumbs" }, h("a", { href: "#/runs" }, "Runs")), title(`Run ${id}`), box);
  const ask = async (signal) => {
    const [run, list] = await Promise.all([get(`runs/${id}`, {}, signal), get(`runs/${id}/checks`, {}, signal)]);
    const report = list.length ? await get(`runs/${id}/report`, {}, signal).catch(() => null) : null;
    return { run, list, report };
  };
  const again = replay();
  const draw = ({ run, list, report }) => [
    head(run),
    h("section", { "aria-labelledby": "checks" }, h("h2", { id: "checks" }, "Checks"), checks(run, list, report)),
    h("div", { class: "columns" },
      h("section", { "aria-labelledby": "files" }, h("h2", { id: "files" }, "Downloads"), run.state === "running" ? h("p", { class: "empty-note" }, "When the run has ended.") : downloads(run)),
      h("section", { "aria-labelledby": "again" }, h("h2", { id: "again" }, "Play it again"),
        h("p", { class: "note" }, "The same plan, seed and bench, as a new job."), again.element({ run, label: "Play this run again" })))];
  return keep(box, ["runs"], ask, draw).close;
}
