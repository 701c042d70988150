// Submitting a plan, the jobs, the plans that there are, and the nightly schedules.

import { get, post } from "../api.js";
import { h, show } from "../dom.js";
import { select } from "../parts/fields.js";
import { keep } from "../parts/keep.js";
import { say } from "../parts/say.js";
import { submitForm } from "../parts/submit_form.js";
import { table } from "../parts/table.js";
import { title } from "../parts/title.js";
import { badge } from "../parts/verdict.js";
import { count, exactly, took, when } from "../words.js";
import { nights } from "./tonight.js";

const kLimit = 10;
const kWords = { queued: "Queued", running: "Running", done: "Done", cancelled: "Cancelled", interrupted: "Interrupted" };

const jobState = (job) => (job.state === "running" ? badge("running") : h("span", { class: "state-word" }, kWords[job.state] ?? job.state));

function jobRow(job, cancel) {
  const what = [job.replay ? "replay" : null, job.night || null, job.priority ? `priority ${job.priority}` : null, job.tries > 1 ? `begun ${job.begun} of ${job.tries}` : null].filter(Boolean).join(", ");
  const open = job.state === "queued" || job.state === "running";
  return [
    `Job ${job.id}`, jobState(job),
    [job.plan, h("span", { class: "sub" }, job.controller, job.build ? `, ${job.build}` : "")],
    job.bench || (job.labels.length ? `any with ${job.labels.join(", ")}` : "any"),
    [h("time", { datetime: job.submitted, title: exactly(job.submitted) }, when(job.submitted)), what ? h("span", { class: "sub" }, what) : null],
    [job.run ? h("a", { href: `#/runs/${job.run}` }, `run ${job.run}`) : null, job.waits_for ? h("span", { class: "sub" }, `waits: ${job.waits_for}`) : null, job.note ? h("span", { class: "sub" }, job.note) : null],
    open ? h("button", { type: "button", "data-key": `cancel-${job.id}`, onclick: () => cancel(job), "aria-label": `Cancel job ${job.id}` }, job.state === "running" ? "Stop" : "Cancel") : null,
  ];
}

const kJobColumns = [{ head: "Job", kind: "whole" }, { head: "State", kind: "whole" }, { head: "Plan", kind: "mid" }, { head: "Bench", kind: "mid" }, { head: "Submitted", kind: "whole" }, { head: "Run", kind: "mid" }, { head: "Cancel", kind: "whole" }];

function jobList(main, query) {
  const box = h("div", {}), told = h("p", { class: "note told" });
  let filter = query.get("jobs") ?? "", before = null;
  const cancel = async (job) => {
    try {
      await post(`jobs/${job.id}/cancel`);
      told.textContent = job.state === "running" ? `Job ${job.id} is being stopped.` : `Job ${job.id} is cancelled.`;
    } catch (error) {
      told.textContent = `Job ${job.id} was not cancelled: ${error.message}`;
    }
    say(told.textContent);
    kept.again();
  };
  const draw = (page) => [
    page.items.length ? table(filter ? `${kWords[filter]} jobs, newest first` : "Newest first", kJobColumns, page.items.map((job) => jobRow(job, cancel))) : h("p", { class: "empty-note" }, filter ? `No job is ${kWords[filter].toLowerCase()}.` : "No job yet."),
    h("div", { class: "pager" }, before ? h("button", { type: "button", "data-key": "newest", onclick: () => ((before = null), kept.again()) }, "Newest") : null,
      page.next ? h("button", { type: "button", "data-key": "older", onclick: () => ((before = page.next), kept.again()) }, "Older") : null)];
  const choose = select({ name: "jobs", label: "Show", options: ["", ...Object.keys(kWords)], word: (o) => kWords[o] ?? "all", value: filter, onchange: (event) => ((filter = event.target.value), (before = null), delete box.dataset.stamp, kept.again()) });
  main.append(h("section", { "aria-labelledby": "jobs" }, h("h2", { id: "jobs" }, "Jobs"), h("div", { class: "form" }, choose), told, box));
  const kept = keep(box, ["jobs"], (signal) => get("jobs", { state: filter, before, limit: kLimit }, signal), draw);
  return kept;
}

function planTable(plans) {
  if (plans.length === 0) return h("p", { class: "empty-note" }, "No plan is configured. Plans are named in the daemon's configuration, under plans.");
  const columns = [{ head: "Plan", kind: "mid" }, { head: "Controller", kind: "mid" }, { head: "Checks", kind: "num" }, { head: "Board time", kind: "num" }, { head: "File" }];
  return table(count(plans.length, "plan"), columns, plans.map((p) => [[p.name, p.problem ? h("span", { class: "sub wrong" }, `Cannot be run: ${p.problem}`) : null], p.controller, p.checks.length, p.board_ms ? took(p.board_ms) : "", h("code", {}, p.file)]));
}

export function open(main, { query }) {
  const form = h("div", {}), plans = h("div", {}), schedule = h("div", {});
  main.append(title("Plans"), h("section", { "aria-labelledby": "submit" }, h("h2", { id: "submit" }, "Submit a plan"), form));
  const jobs = jobList(main, query);
  main.append(h("section", { "aria-labelledby": "plans" }, h("h2", { id: "plans" }, "Plans of the configuration"), plans),
    h("section", { "aria-labelledby": "nightly" }, h("h2", { id: "nightly" }, "Nightly schedules"), schedule));
  const names = async (signal) => {
    const [list, controllers, benches] = await Promise.all(["plans", "controllers", "benches"].map((path) => get(path, {}, signal)));
    return { plans: list, controllers, benches };
  };
  let made = null;
  const kept = [jobs, keep(form, [], names, (all) => {
    show(plans, planTable(all.plans));
    return all.plans.length ? (made ??= submitForm(all, query.get("plan") ?? "", jobs.again)) : h("p", { class: "empty-note" }, "There is no plan to submit.");
  }), keep(schedule, ["nights"], (signal) => get("nights", {}, signal), nights)];
  return () => kept.forEach((k) => k.close());
}
