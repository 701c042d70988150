// The benches, live: sticks, tracks, pulses, and what is being played.

import { post } from "../api.js";
import { h, show } from "../dom.js";
import { cautions } from "../parts/caution.js";
import { release } from "../parts/release.js";
import { LivePanel } from "../parts/live_panel.js";
import { say } from "../parts/say.js";
import { title } from "../parts/title.js";
import { news, state } from "../state.js";
import { byHand } from "../stop.js";

const standing = () => h("details", { class: "standing" },
  h("summary", {}, h("strong", {}, "A tracked machine under test moves without warning. "), "Motors disconnected or tracks off the ground, and somebody at the stop loop. All cautions"),
  h("ul", {}, cautions.map((text) => h("li", {}, text))));

function tabs(name) {
  if (state.benches.length < 2) return [];
  return h("ul", { class: "benches" }, state.benches.map((b) => h("li", {}, h("a", { href: `#/bench/${encodeURIComponent(b.name)}`, "aria-current": b.name === name ? "page" : null, "data-key": `bench-${b.name}` },
    h("span", { class: "bench-name" }, b.name), h("span", { class: `bench-state ${b.state}` }, h("i", {}), b.state)))));
}

async function stopOne(bench, result) {
  try {
    await post(`benches/${encodeURIComponent(bench)}/stop`);
    result.textContent = `Stop sent to ${bench}.`;
  } catch (error) {
    result.textContent = `${bench} is not stopped: ${error.message}. ${byHand} Stop all is tried again until it gets through; this button is not.`;
  }
  say(result.textContent, true);
}

function facts(b) {
  const calibration = b.calibration ? { valid: "valid", old: "too old, not used", foreign: "of another board, not used" }[b.calibration.state] ?? b.calibration.state : "none";
  const all = [["Address", b.address], ["Board", b.board || "not greeted yet"], ["Kind", b.virtual ? "virtual: nothing real is powered" : "real: powers a controller"],
    ["Labels", b.labels.join(", ") || "none"], ["Calibration", h("a", { href: "#/calibration" }, calibration)]];
  return h("dl", { class: "facts" }, all.map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value))));
}

function doing(b) {
  if (b.state === "missing") return h("p", { class: "lead" }, h("strong", {}, "Missing: "), b.detail || "the board does not answer");
  if (b.state === "held") return h("p", { class: "lead held" }, h("strong", {}, "Held: "), b.detail || "its stop loop opened during a run", ". Nothing begins here until somebody releases it.");
  if (b.state === "stopping") return h("p", { class: "lead" }, h("strong", {}, "Stopping: "), b.detail || "pulses and controller power are off");
  if (b.state === "ready") return h("p", { class: "lead" }, "Ready, and idle. ", h("a", { href: "#/plans" }, "Submit a plan"), b.detail ? h("span", { class: "note" }, ` ${b.detail}`) : null);
  // Between two jobs there is no run yet: its board is greeted and its plan composed.
  if (b.run === null) return h("p", { class: "lead" }, b.job === null ? "Beginning a job" : `Beginning job ${b.job}`);
  return h("p", { class: "lead" }, "Playing ", h("a", { href: `#/runs/${b.run}`, "data-key": "playing" }, `run ${b.run}`));
}

export function open(main, { parts: [wanted] }) {
  const heading = title("Bench"), list = h("div", {}), what = h("div", {}), below = h("div", {}), panel = new LivePanel();
  const result = h("p", { class: "note told" }), stopThis = h("button", { type: "button", class: "stop-one", onclick: () => stopOne(bench, result) }, "Stop this bench");
  let bench = wanted, run = null;
  const letGo = release(() => bench);
  main.append(heading, standing(), list, h("div", { class: "now-row" }, what, stopThis), letGo.element, result, panel.element, below);
  panel.element.hidden = true;

  function draw() {
    // Without a name in the address: the one that runs, and then that one for as long as the view is open.
    bench ??= (state.benches.find((b) => b.state === "running") ?? state.benches[0])?.name;
    const b = state.benches.find((one) => one.name === bench);
    show(list, tabs(bench), JSON.stringify(state.benches.map((one) => [one.name, one.state, bench])));
    stopThis.hidden = b?.state !== "running";
    letGo.look(b?.state);
    if (!b) {
      const text = !state.health ? "Waiting for the daemon." : state.benches.length === 0 ? "No bench is configured." : `There is no bench called "${bench}".`;
      return show(what, h("p", { class: "empty-note" }, text), text);
    }
    heading.querySelector("h1").textContent = b.name;
    document.title = `${b.name} \u2013 Midstick`;
    show(what, doing(b), JSON.stringify([b.state, b.run, b.job, b.detail]));
    show(below, facts(b), JSON.stringify([b.address, b.board, b.labels, b.calibration, b.virtual]));
  }

  function hear(message) {
    if (message.bench !== bench) return;
    panel.element.hidden = false;
    if (message.run !== run) (run = message.run), (result.textContent = "");
    panel.take(message);
  }

  const off = [news.on("benches", draw), news.on("live", hear)];
  const timer = setInterval(() => panel.look(state.benches.find((b) => b.name === bench)?.state === "running"), 250);
  const redraw = () => panel.redraw();
  addEventListener("theme", redraw);
  draw();
  return () => {
    off.forEach((end) => end());
    clearInterval(timer);
    removeEventListener("theme", redraw);
  };
}
