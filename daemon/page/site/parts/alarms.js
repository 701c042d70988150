// What must be known on every view: connection lost, a bench held, store away, disk nearly full, a token asked for, and what Stop has done.

import { token } from "../api.js";
import { h, show } from "../dom.js";
import { connect } from "../link.js";
import { news, state } from "../state.js";
import { bytes, count, distance, exactly, when } from "../words.js";
import { say } from "./say.js";

const kLittleBytes = 2e9;

function lostAlarm() {
  if (state.link !== "lost" && state.link !== "deaf") return null;
  const since = h("time", { datetime: state.linkSince.toISOString() }, when(state.linkSince));
  const next = h("span", { id: "retry", "aria-hidden": "true" });
  const text = state.link === "lost"
    ? [h("p", {}, h("strong", {}, "No connection to the daemon"), " since ", since, ". What you see is from before."),
      h("p", {}, "Benches go on without this page. A bench board drops pulses and controller power by itself when the daemon falls silent. Stop on this page does not reach it now; it is kept and sent when the daemon is back. Have the stop loop at hand.")]
    : [h("p", {}, h("strong", {}, "No live messages"), " since ", since, ". The daemon answers, so lists and Stop work; the live view stands still.")];
  return h("div", { class: state.link === "lost" ? "alarm bad" : "alarm", "data-alarm": state.link }, h("div", {}, text, h("p", {}, next)),
    h("button", { type: "button", "data-key": "try-now", onclick: connect }, "Try now"));
}

function countDown() {
  const box = document.getElementById("retry");
  if (!box) return;
  const left = state.retryAt ? Math.max(0, Math.ceil((state.retryAt - Date.now()) / 1000)) : 0;
  box.textContent = left > 0 ? `Next attempt in ${left} s.` : "Trying now.";
}

function storeAlarm(store) {
  if (store.state !== "away") return null;
  const since = store.since ? [" since ", h("time", { datetime: store.since, title: exactly(store.since) }, when(store.since)), ` (${distance(store.since)})`] : null;
  return h("div", { class: "alarm", "data-alarm": "store" }, h("div", {},
    h("p", {}, h("strong", {}, "The store of runs is away"), since, ": ", store.detail),
    h("p", {}, "Still safe: Stop and the live view work, a run that plays is finished, and finished runs stay on disk",
      store.unsaved_runs ? ` (${count(store.unsaved_runs, "run")} not in the database yet)` : "", ". Nothing that was acknowledged is lost."),
    h("p", {}, "Until it is back, new jobs are refused and lists may be old or missing. It is looked for all the time.")));
}

function diskAlarm(store) {
  if (store.free_bytes >= kLittleBytes || store.state === "away") return null;
  return h("div", { class: "alarm", "data-alarm": "disk" }, h("p", {}, h("strong", {}, `Only ${bytes(store.free_bytes)} left`),
    " on the disk that keeps the runs. Nothing is dropped for that: captures go only by the size and age that the configuration sets. Below 200 MB no run begins. Make room."));
}

function drawBenches() {
  const held = state.link === "asking" ? [] : state.benches.filter((b) => b.state === "held");
  show(document.getElementById("alarm-benches"), held.map((b) => h("div", { class: "alarm", "data-alarm": "held" }, h("p", {}, h("strong", {}, `${b.name} is held`), b.detail ? `: ${b.detail}` : "",
    ". Nothing begins there until somebody has looked why and ", h("a", { href: `#/bench/${encodeURIComponent(b.name)}`, "data-key": `held-${b.name}` }, "releases it"), "."))),
    JSON.stringify(held.map((b) => [b.name, b.detail])));
}

function drawHealth() {
  const store = state.health?.store;
  const alarms = store && state.link !== "asking" ? [storeAlarm(store), diskAlarm(store)] : [];
  const stamp = JSON.stringify([store?.state, store?.detail, store?.unsaved_runs, store && store.free_bytes < kLittleBytes, state.link === "asking", Math.floor(Date.now() / 60_000)]);
  show(document.getElementById("alarm-health"), alarms, stamp);
}

function drawToken(problem) {
  const field = h("input", { type: "password", name: "token", id: "token", autocomplete: "off", required: true, spellcheck: "false" }), wrong = h("p", { class: "wrong" });
  const keep = (event) => {
    event.preventDefault();
    if (token.set(field.value.trim())) return location.reload();
    wrong.textContent = "This browser does not let the page keep the token. Allow this address to store data, then give it again.";
    say(wrong.textContent, true);
  };
  const why = token.get() ? `The daemon does not take this token: ${problem.message}` : "This daemon asks who you are. A token is made on the daemon's computer, and needs the scope read to look, run to play and stop.";
  show(document.getElementById("alarm-token"), h("div", { class: "alarm", "data-alarm": "token" }, h("div", {},
    h("p", {}, h("strong", {}, "Token needed")), h("p", {}, why),
    h("form", { onsubmit: keep }, h("label", { for: "token" }, "Token", field), h("button", { type: "submit" }, "Use it")), wrong,
    h("p", {}, "It is kept in this tab only, until the tab is closed."))), problem.message);
  if (!document.activeElement || document.activeElement === document.body) field.focus();
}

export function begin() {
  const alarms = document.getElementById("alarms");
  alarms.before(h("div", { id: "stopped", class: "off", role: "region", "aria-label": "Stop" })); // on its own, so that it can stay in sight however far one scrolls
  alarms.append(...["alarm-token", "alarm-link", "alarm-benches", "alarm-health"].map((id) => h("div", { id })));
  let last = state.link;
  news.on("link", () => {
    show(document.getElementById("alarm-link"), lostAlarm(), state.link);
    countDown();
    if (state.link !== last && state.link === "lost") say("No connection to the daemon.", true);
    if (state.link !== last && state.link === "up") say("Connected to the daemon.");
    last = state.link;
    drawBenches();
    drawHealth();
  });
  let store = "ready";
  news.on("health", () => {
    drawHealth();
    if (state.health.store.state !== store) say(state.health.store.state === "away" ? "The store of runs is away." : "The store of runs is back.");
    store = state.health.store.state;
  });
  let held = "";
  news.on("benches", () => {
    drawBenches();
    const now = state.benches.filter((b) => b.state === "held").map((b) => b.name).join(", ");
    if (now && now !== held) say(`Held: ${now}.`, true);
    held = now;
  });
  news.on("token", drawToken);
  setInterval(countDown, 500);
}
