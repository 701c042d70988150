// One metric over many nights, with the tolerance band of the baseline and where a drift began.

import { get } from "../api.js";
import { h, show } from "../dom.js";
import { select } from "../parts/fields.js";
import { keep } from "../parts/keep.js";
import { table } from "../parts/table.js";
import { title } from "../parts/title.js";
import { trendPlot } from "../parts/trend_plot.js";
import { count, exactly, number, quantity, unit, when } from "../words.js";

const kRows = innerWidth > 800 ? 30 : 10; ///< on a phone each takes six lines

const to = (now) => `/trend?${new URLSearchParams(Object.entries(now).filter(([, value]) => value))}`;

function verdict(t) {
  if (t.drift) return h("div", { class: "verdict fail" }, h("p", { class: "big" }, `Drifts by ${t.drift.size > 0 ? "+" : ""}${number(t.drift.size)} ${unit(t.drift.unit)}`),
    h("p", {}, t.drift.detail, ` Began: ${t.drift.began}.`), h("p", { class: "note" }, t.detail));
  return h("div", { class: `verdict ${t.low === null ? "none" : "pass"}` }, h("p", { class: "big" }, t.low === null ? "Not judged yet" : "Steady"), h("p", {}, t.detail));
}

const facts = (t) => h("dl", { class: "facts" }, [["Nights", t.points.length], ["Newest", t.points.length ? quantity(t.points.at(-1).value, t.points.at(-1).uncertainty, t.unit) : "none"],
  ["Centre of the baseline", t.centre === null ? "not known yet" : `${number(t.centre)} ${unit(t.unit)}`], ["Tolerance", t.low === null ? "not known yet" : `${number(t.low)} to ${number(t.high)} ${unit(t.unit)}`]]
  .map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value))));

function points(t) {
  const newest = [...t.points].reverse();
  const rows = (list) => list.map((p) => [h("a", { href: `#/runs/${p.run}`, "data-key": `run-${p.run}` }, `Run ${p.run}`), h("time", { datetime: p.at, title: exactly(p.at) }, when(p.at)), p.build || "not named", quantity(p.value, p.uncertainty, t.unit),
    t.low === null ? "" : p.value < t.low ? "below" : p.value > t.high ? "above" : "within"]);
  const columns = [{ head: "Run", kind: "whole" }, { head: "When", kind: "whole" }, { head: "Build" }, { head: "Value", kind: "whole" }, { head: "Tolerance" }];
  return table(newest.length > kRows ? `The newest ${kRows} of ${newest.length} nights` : count(newest.length, "night"), columns, rows(newest.slice(0, kRows)));
}

export function open(main, { query }) {
  const now = Object.fromEntries(["controller", "plan", "metric", "bench"].map((name) => [name, query.get(name) ?? ""]));
  const head = h("div", {}), box = h("div", {}), room = h("div", {}), below = h("div", {});
  main.append(title("Trend"), head, box, room, below);
  let plot = null, reading = null;
  const choose = (name, value) => (location.hash = to({ ...now, ...(name === "plan" || name === "controller" ? { metric: "", bench: "" } : {}), [name]: value }));
  const form = async (signal) => {
    const [controllers, plans] = await Promise.all([get("controllers", {}, signal), get("plans", {}, signal)]);
    now.plan ||= plans[0]?.name ?? "";
    now.controller ||= plans.find((p) => p.name === now.plan)?.controller ?? controllers[0]?.name ?? "";
    const metrics = now.plan && now.controller ? await get("metrics", { controller: now.controller, plan: now.plan }, signal) : [];
    now.metric ||= metrics[0]?.name ?? "";
    // Asked again after an outage, there is one already.
    if (reading) reading.again();
    else kept.push((reading = keep(box, ["runs"], read, draw)));
    return { controllers: controllers.map((c) => c.name), plans: plans.map((p) => p.name), metrics: metrics.map((m) => m.name) };
  };
  const fields = (n) => h("form", { class: "form", onsubmit: (event) => event.preventDefault(), "aria-label": "What to show" },
    [["plan", "Plan", n.plans], ["controller", "Controller", n.controllers], ["metric", "Metric", n.metrics]].map(([name, label, options]) =>
      select({ name, label, options, word: (o) => o || "none yet", value: now[name], onchange: (event) => choose(name, event.target.value) })));
  /** Where several benches have the metric: each has a series of its own. */
  const whose = (t) => (t.benches.length < 2 ? null : h("form", { class: "form", onsubmit: (event) => event.preventDefault(), "aria-label": "Which bench" },
    select({ name: "bench", label: "Bench", options: t.benches, word: (o) => o, value: t.bench, onchange: (event) => choose("bench", event.target.value) })));
  const read = async (signal) => (now.metric ? get("trend", now, signal) : null);
  const draw = (t) => {
    plot?.close();
    plot = null;
    if (!t || t.points.length === 0) {
      room.replaceChildren(), below.replaceChildren();
      return h("p", { class: "empty-note" }, "No night of this controller and plan has left a number yet. Every finished run adds one point to each metric.");
    }
    plot = trendPlot(t);
    show(room, plot.element);
    plot.attach();
    show(below, [facts(t), h("section", { "aria-labelledby": "nights" }, h("h2", { id: "nights" }, "Nights"), points(t))]);
    return [whose(t), verdict(t)];
  };
  const kept = [];
  kept.push(keep(head, [], form, fields));
  const again = () => {
    delete box.dataset.stamp;
    reading?.again();
  };
  addEventListener("theme", again);
  return () => {
    removeEventListener("theme", again);
    kept.forEach((k) => k.close());
    plot?.close();
  };
}
