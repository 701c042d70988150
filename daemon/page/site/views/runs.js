// Every run, newest first, with a filter that the address carries.

import { get } from "../api.js";
import { h } from "../dom.js";
import { keep } from "../parts/keep.js";
import { runTable } from "../parts/run_rows.js";
import { title } from "../parts/title.js";
import { select } from "../parts/fields.js";

const kLimit = 25;
const kFilters = ["controller", "plan", "bench", "verdict"];

function filters(now, names) {
  const choose = () => {
    const query = new URLSearchParams();
    for (const name of kFilters) if (form.elements[name].value) query.set(name, form.elements[name].value);
    location.hash = `/runs${query.size ? `?${query}` : ""}`;
  };
  const field = (name, label, options) => select({ name, label, options: ["", ...options], word: (o) => o || "any", value: now[name], onchange: choose });
  const form = h("form", { class: "form", onsubmit: (event) => event.preventDefault(), "aria-label": "Filter" },
    field("verdict", "Verdict", ["fail", "inconclusive", "pass"]), field("controller", "Controller", names.controllers), field("plan", "Plan", names.plans), field("bench", "Bench", names.benches));
  return form;
}

function draw(now, page) {
  const to = (before) => `#/runs?${new URLSearchParams({ ...Object.fromEntries(kFilters.filter((f) => now[f]).map((f) => [f, now[f]])), ...(before ? { before } : {}) })}`;
  const filtered = kFilters.some((f) => now[f]);
  const list = page.items.length ? runTable(`${filtered ? "Runs that fit the filter" : "Runs"}, newest first`, page.items)
    : h("p", { class: "empty-note" }, filtered ? ["No run fits this filter. ", h("a", { href: "#/runs" }, "Show every run")]
      : ["Nothing has run yet. ", h("a", { href: "#/plans" }, "Submit a plan")]);
  return [list, h("nav", { class: "pager", "aria-label": "Pages" },
    now.before ? h("a", { class: "button", href: to(), "data-key": "newest" }, "Newest") : null,
    page.next ? h("a", { class: "button", href: to(page.next), "data-key": "older" }, "Older") : null)];
}

export function open(main, { query }) {
  const now = Object.fromEntries([...kFilters, "before"].map((name) => [name, query.get(name) ?? ""]));
  const head = h("div", {}), box = h("div", {});
  main.append(title("Runs"), head, box);
  const names = async (signal) => {
    const [controllers, plans, benches] = await Promise.all(["controllers", "plans", "benches"].map((path) => get(path, {}, signal)));
    return { controllers: controllers.map((c) => c.name), plans: plans.map((p) => p.name), benches: benches.map((b) => b.name) };
  };
  const kept = [keep(head, [], names, (n) => filters(now, n)),
    keep(box, ["runs"], (signal) => get("runs", { ...now, limit: kLimit }, signal), (page) => draw(now, page))];
  return () => kept.forEach((k) => k.close());
}
