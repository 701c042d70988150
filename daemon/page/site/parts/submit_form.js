// The form that submits a job. Where the job may land on a real bench it shows the cautions and asks before anything is powered.

import { post } from "../api.js";
import { h } from "../dom.js";
import { state } from "../state.js";
import { count, took } from "../words.js";
import { ask, mayPower } from "./caution.js";
import { select, text } from "./fields.js";
import { say } from "./say.js";

function picker() {
  const box = h("div", { class: "picks" }), word = h("span", {}, "");
  const all = (yes) => {
    for (const tick of box.querySelectorAll("input")) tick.checked = yes;
    count_();
  };
  const ticked = () => [...box.querySelectorAll("input:checked")].map((tick) => tick.value);
  const total = () => box.querySelectorAll("input").length;
  function count_() {
    const n = ticked().length;
    word.textContent = n === total() ? `all ${n} checks` : `${n} of ${count(total(), "check")}`;
  }
  const element = h("details", { class: "across" }, h("summary", {}, "Only some checks: ", word),
    h("div", { class: "row" }, h("button", { type: "button", onclick: () => all(true) }, "All"), h("button", { type: "button", onclick: () => all(false) }, "None")), box);
  return {
    element,
    offer(checks) {
      box.replaceChildren(...checks.map((name) => h("label", {}, h("input", { type: "checkbox", name: "check", value: name, checked: true, onchange: count_ }), name)));
      count_();
    },
    /** Names, or nothing for all; [] when none is ticked. */
    chosen: () => (ticked().length === total() ? undefined : ticked()),
  };
}

const whole = (field) => (field.value.trim() === "" ? undefined : Number(field.value));

const labelsOf = (form) => form.elements.labels.value.split(",").map((l) => l.trim()).filter(Boolean);

/** The body of the request: only what was filled in. */
function request(form, checks) {
  const e = form.elements, body = { plan: e.plan.value };
  if (e.controller.value) body.controller = e.controller.value;
  if (e.build.value.trim()) body.build = e.build.value.trim();
  if (e.bench.value) body.bench = e.bench.value;
  else if (labelsOf(form).length) body.labels = labelsOf(form);
  for (const name of ["seed", "priority"]) if (whole(e[name]) !== undefined) body[name] = whole(e[name]);
  if (checks.chosen()) body.checks = checks.chosen();
  return body;
}

/** [field, what is wrong with it], or nothing. */
function fault(form, checks) {
  for (const [name, low, high] of [["seed", 0, 4294967295], ["priority", -100, 100]]) {
    const field = form.elements[name], value = whole(field);
    const bad = field.validity.badInput || (value !== undefined && !(Number.isInteger(value) && value >= low && value <= high));
    field.setAttribute("aria-invalid", String(bad));
    if (bad) return [field, `${name} is a whole number from ${low} to ${high}`];
  }
  return checks.chosen()?.length === 0 ? [checks.element.querySelector("summary"), "Tick at least one check"] : null;
}

export function submitForm({ plans, controllers, benches }, wanted, submitted) {
  const checks = picker(), caution = ask("submit-safe"), wrong = h("p", { class: "wrong across" }), result = h("p", { class: "result across" }), about = h("p", { class: "hint across" });
  const plan = () => plans.find((p) => p.name === form.elements.plan.value);
  const power = () => (caution.element.hidden = !mayPower(state.benches.length ? state.benches : benches, form.elements.bench.value, labelsOf(form)));
  const onBench = () => {
    form.elements.labels.disabled = form.elements.bench.value !== "";
    power();
  };
  const onPlan = () => {
    const p = plan();
    checks.offer(p.checks);
    about.textContent = p.problem ? `Cannot be run: ${p.problem}` : `${count(p.checks.length, "check")}, ${took(p.board_ms)} of board time. Controller: ${p.controller}.`;
    send.disabled = p.problem !== "";
  };
  const send = h("button", { type: "submit", class: "main" }, "Submit");
  const form = h("form", { class: "form", novalidate: true, "aria-label": "Submit a plan", onsubmit: submit },
    select({ name: "plan", label: "Plan", options: plans.map((p) => p.name), value: plans.some((p) => p.name === wanted) ? wanted : plans[0].name, onchange: onPlan }),
    text({ name: "build", label: "Build label", placeholder: "rev B" }),
    select({ name: "bench", label: "Bench", options: ["", ...benches.map((b) => b.name)], word: (o) => o || "any that fits", value: "", onchange: onBench }),
    text({ name: "labels", label: "With these labels", placeholder: "any", hint: "Separated by commas", oninput: power }),
    select({ name: "controller", label: "Controller", options: ["", ...controllers.map((c) => c.name)], word: (o) => o || "the plan's", value: "" }),
    text({ name: "seed", label: "Seed", type: "number", min: 0, max: 4294967295, placeholder: "the plan's" }),
    text({ name: "priority", label: "Priority", type: "number", min: -100, max: 100, placeholder: "0", hint: "\u2212100 to 100, higher first" }),
    about, checks.element, h("div", { class: "across" }, caution.element), h("div", { class: "row across" }, send), wrong, result);

  async function submit(event) {
    event.preventDefault();
    wrong.textContent = "";
    result.replaceChildren();
    const bad = fault(form, checks);
    if (bad) {
      wrong.textContent = bad[1];
      say(bad[1], true);
      return bad[0].focus();
    }
    power();
    if (!caution.kept()) return;
    send.disabled = true;
    try {
      const job = await post("jobs", request(form, checks));
      result.replaceChildren(`Job ${job.id} is submitted. `, h("a", { href: job.bench ? `#/bench/${encodeURIComponent(job.bench)}` : "#/bench" }, "Watch the bench"));
      say(`Job ${job.id} is submitted.`);
      caution.clear();
      submitted();
    } catch (error) {
      wrong.textContent = ["Not submitted: ", error.message, ...(error.errors ?? []).map((e) => `; ${e.pointer}: ${e.detail}`)].join("");
      say(wrong.textContent, true);
    }
    send.disabled = false;
  }
  onPlan();
  onBench();
  return form;
}
