// What ran, what broke, what drifted in the last 24 hours, and the nights to come.

import { get } from "../api.js";
import { h } from "../dom.js";
import { keep } from "../parts/keep.js";
import { runTable } from "../parts/run_rows.js";
import { nightStrip } from "../parts/night_strip.js";
import { title } from "../parts/title.js";
import { badge } from "../parts/verdict.js";
import { count, distance, exactly, micro, number, offset, unit, when } from "../words.js";

const checkLink = (run, check) => h("a", { href: `#/runs/${run}/check/${encodeURIComponent(check)}`, "data-key": `check-${run}-${check}` }, check);
const trendLink = (d) => `#/trend?${new URLSearchParams({ controller: d.controller, plan: d.plan, metric: d.metric, bench: d.bench })}`;

function tally(t) {
  const of = (verdict) => t.runs.filter((run) => run.verdict === verdict).length;
  const item = (n, what, kind) => h("li", {}, h("span", { class: "big-number" }, kind && n ? badge(kind, String(n)) : n), h("span", { class: "what" }, what));
  const running = t.runs.filter((run) => run.state === "running").length;
  return h("ul", { class: "tally" }, item(of("pass"), "passed", "pass"), item(of("fail"), "failed", "fail"), item(of("inconclusive"), "inconclusive", "inconclusive"),
    running ? item(running, "running", "running") : null, item(t.drifted.length, t.drifted.length === 1 ? "metric drifts" : "metrics drift"));
}

/** Was it so before? Only a run of the same controller and plan on the same bench says. */
const beforeTag = (b) => (b.before === "pass" ? h("span", { class: "tag new" }, "new since ", h("a", { href: `#/runs/${b.before_run}` }, `run ${b.before_run}`), ", which passed")
  : h("span", { class: "tag" }, b.before === "fail" ? "failed before too" : "no earlier run on this bench"));

/** Checks that broke, under the run that they broke in; what passed in the run before comes first. */
function broke(list) {
  if (list.length === 0) return h("p", { class: "empty-note" }, "Nothing broke.");
  const runs = [...new Set(list.map((b) => b.run))].map((run) => list.filter((b) => b.run === run).sort((a, b) => b.new - a.new));
  return runs.map((checks) => [
    h("h3", { class: "group" }, h("a", { href: `#/runs/${checks[0].run}` }, `Run ${checks[0].run}`), h("span", { class: "note" }, ` ${checks[0].controller}${checks[0].build ? `, ${checks[0].build}` : ""}`)),
    h("ul", { class: "list" }, checks.map((b) => h("li", {},
      h("div", { class: "head" }, checkLink(b.run, b.check), beforeTag(b)),
      h("p", {}, micro(b.summary)), b.cause ? h("p", { class: "note" }, "Consistent with: ", micro(b.cause)) : null)))]);
}

function drifted(list) {
  if (list.length === 0) return h("p", { class: "empty-note" }, "No metric drifts.");
  return h("ul", { class: "list" }, list.map((d) => h("li", {},
    h("div", { class: "head" }, h("a", { href: trendLink(d), "data-key": `drift-${d.metric}` }, d.metric), h("span", { class: "quantity" }, `${d.size > 0 ? "+" : ""}${number(d.size)} ${unit(d.unit)}`)),
    h("p", {}, micro(d.detail)), h("p", { class: "note" }, `${d.controller}, ${d.plan}, ${d.bench}; began ${d.began}`))));
}

const flaky = (list) => h("ul", { class: "list" }, list.map((q) => h("li", {}, h("div", { class: "head" }, h("strong", {}, q.check), h("span", { class: "tag warn" }, "set aside")),
  h("p", {}, `Changed its verdict ${q.flips} times in ${count(q.of, "run")} of the same build; it does not decide a run's verdict until it is steady.`),
  h("p", { class: "note" }, `${q.controller}, ${q.plan}`))));

export function nights(list) {
  if (list.length === 0) return h("p", { class: "empty-note" }, "No night is planned. Schedules are in the daemon's configuration, under nights.");
  return h("ul", { class: "list" }, list.map((n) => h("li", {},
    h("div", { class: "head" }, h("strong", {}, n.name), h("span", {}, h("time", { datetime: n.next, title: exactly(n.next) }, when(n.next)), `, ${distance(n.next)}`)),
    h("p", { class: "note" }, `${n.plan}, ${n.controller}; every night at ${n.at} ${n.zone}`),
    n.last ? h("p", { class: "note row" }, `Last: ${n.last.night}`, n.last.verdict ? badge(n.last.verdict) : badge("none", "no verdict"),
      n.last.run ? h("a", { href: `#/runs/${n.last.run}` }, `run ${n.last.run}`) : null) : h("p", { class: "note" }, "Has not run yet."))));
}

function draw(t) {
  return [
    tally(t), nightStrip(t),
    h("div", { class: "columns" },
      h("section", { "aria-labelledby": "broke" }, h("h2", { id: "broke" }, "What broke"), broke(t.broke)),
      h("div", {},
        h("section", { "aria-labelledby": "drifted" }, h("h2", { id: "drifted" }, "What drifted"), drifted(t.drifted)),
        t.quarantined.length ? h("section", { "aria-labelledby": "flaky" }, h("h2", { id: "flaky" }, "Flaky checks"), flaky(t.quarantined)) : null,
        h("section", { "aria-labelledby": "nights" }, h("h2", { id: "nights" }, "Nights to come"), nights(t.nights)))),
    h("section", { "aria-labelledby": "ran" }, h("h2", { id: "ran" }, "What ran"),
      t.runs.length ? runTable(`${count(t.runs.length, "run")}, newest first`, t.runs)
        : h("p", { class: "empty-note" }, "Nothing ran in the last 24 hours. ", h("a", { href: "#/plans" }, "Submit a plan"), ", or wait for the night."))];
}

export function open(main) {
  const box = h("div", {});
  main.append(title("Tonight", h("p", { class: "note" }, `The last 24 hours, times in ${offset()}`)), box);
  return keep(box, ["runs", "jobs", "nights"], (signal) => get("tonight", {}, signal), draw).close;
}
