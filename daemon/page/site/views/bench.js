// The benches, live: sticks, tracks, pulses, and what is being played.

import { post } from "../api.js";
import { h, show } from "../dom.js";
import { cautions } from "../parts/caution.js";
import { PulseStrip } from "../parts/pulse_strip.js";
import { say } from "../parts/say.js";
import { stickDrawing, trackDrawing } from "../parts/machine.js";
import { title } from "../parts/title.js";
import { news, state } from "../state.js";
import { number, took } from "../words.js";

const kRateOverMs = 2000, kStaleMs = 1500, kNewsEveryMs = 10_000;

const standing = () => h("details", { class: "standing" },
  h("summary", {}, h("strong", {}, "A tracked machine under test moves without warning. "), "Motors disconnected or tracks off the ground, and somebody at the stop loop. All cautions"),
  h("ul", {}, cautions.map((text) => h("li", {}, text))));

const kStates = { running: "running", ready: "ready", missing: "missing", stopping: "stopping" };

function tabs(name) {
  if (state.benches.length < 2) return [];
  return h("ul", { class: "benches" }, state.benches.map((b) => h("li", {}, h("a", { href: `#/bench/${encodeURIComponent(b.name)}`, "aria-current": b.name === name ? "page" : null, "data-key": `bench-${b.name}` },
    h("span", { class: "bench-name" }, b.name), h("span", { class: `bench-state ${b.state}` }, h("i", {}), kStates[b.state] ?? b.state)))));
}

async function stopOne(bench, result) {
  try {
    await post(`benches/${encodeURIComponent(bench)}/stop`);
    result.textContent = `Stop sent to ${bench}.`;
  } catch (error) {
    result.textContent = `Not stopped: ${error.message}`;
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
  if (b.state === "stopping") return h("p", { class: "lead" }, h("strong", {}, "Stopping: "), b.detail || "pulses and controller power are off");
  if (b.state === "ready") return h("p", { class: "lead" }, "Ready, and idle. ", h("a", { href: "#/plans" }, "Submit a plan"), b.detail ? h("span", { class: "note" }, ` ${b.detail}`) : null);
  return h("p", { class: "lead" }, "Playing ", h("a", { href: `#/runs/${b.run}`, "data-key": "playing" }, `run ${b.run}`));
}

/** The part that moves. Values are set in place, 20 times a second; nothing in here is read out by itself. */
function livePanel() {
  const check = h("strong", { class: "check" }), where = h("span", { class: "note" }), bar = h("progress", { max: 1, value: 0, "aria-label": "Board time played" });
  const time = h("span", { class: "num" }), rate = h("span", { class: "num", "data-rate": "0" });
  const stick = stickDrawing(), tracks = trackDrawing(), strips = h("div", { class: "strips" }), byName = new Map();
  const element = h("div", { class: "live" },
    h("div", { class: "playing" }, h("p", {}, check, " ", where), bar, h("p", { class: "row note" }, time, rate)),
    h("div", { class: "drawings" }, stick.element, tracks.element), h("h2", {}, "Pulses"), h("p", { class: "note" }, "Each needle is one pulse, from neutral (1500 µs) to its width; 4 s of board time, written over from the left."), strips);

  function take(message) {
    check.textContent = message.check || "Between checks";
    where.textContent = message.segments ? `${message.segment} of ${message.segments}` : "";
    bar.value = message.total_ms > 0 ? Math.min(1, message.done_ms / message.total_ms) : 0;
    time.textContent = `${took(message.done_ms)} of ${took(message.total_ms)} board time`;
    stick.take(message.lines.filter((l) => l.side === "stick"));
    tracks.take(message.lines.filter((l) => l.side === "output"));
    for (const line of message.lines) {
      const key = `${line.side} ${line.name}`;
      if (!byName.has(key)) {
        byName.set(key, new PulseStrip(line));
        strips.append(byName.get(key).element);
      }
      byName.get(key).take(line);
    }
  }
  const silent = () => [...byName.values()].forEach((strip) => strip.silent());
  const redraw = () => [...byName.values()].forEach((strip) => strip.redraw());
  return { element, take, silent, redraw, rate };
}

export function open(main, { parts: [wanted] }) {
  const heading = title("Bench"), list = h("div", {}), what = h("div", {}), below = h("div", {}), panel = livePanel();
  const result = h("p", { class: "note told" });
  const stopThis = h("button", { type: "button", class: "stop-one" }, "Stop this bench");
  main.append(heading, standing(), list, h("div", { class: "now-row" }, what, stopThis), result, panel.element, below);
  let at = [], run = null, saidCheck = "", saidAt = 0;
  const name = () => wanted ?? (state.benches.find((b) => b.state === "running") ?? state.benches[0])?.name;
  let bench = name();
  stopThis.addEventListener("click", () => stopOne(bench, result));

  function draw() {
    bench = wanted ?? bench ?? name();
    const b = state.benches.find((one) => one.name === bench);
    show(list, tabs(bench), JSON.stringify(state.benches.map((one) => [one.name, one.state, bench])));
    if (!b) {
      stopThis.hidden = panel.element.hidden = true;
      const text = state.benches.length === 0 ? (state.health ? "No bench is configured." : "Waiting for the daemon.") : `There is no bench called "${bench}".`;
      return show(what, h("p", { class: "empty-note" }, text), text);
    }
    heading.querySelector("h1").textContent = b.name;
    document.title = `${b.name} \u2013 Midstick`;
    stopThis.hidden = b.state !== "running";
    if (b.state !== "running" && !at.length) panel.element.hidden = true;
    show(what, doing(b), JSON.stringify([b.state, b.run, b.detail]));
    show(below, facts(b), JSON.stringify([b.address, b.board, b.labels, b.calibration, b.virtual]));
  }

  function hear(message) {
    if (message.bench !== bench) return;
    panel.element.hidden = false;
    if (message.run !== run) (run = message.run), (result.textContent = "");
    at.push(performance.now());
    panel.take(message);
    const now = Date.now();
    if (message.check && message.check !== saidCheck && now - saidAt > kNewsEveryMs) {
      say(`Playing ${message.check}, ${message.segment} of ${message.segments}.`);
      (saidCheck = message.check), (saidAt = now);
    }
  }

  function look() {
    const now = performance.now(), last = at.at(-1) ?? 0;
    at = at.filter((t) => now - t < kRateOverMs);
    const running = state.benches.find((b) => b.name === bench)?.state === "running";
    const rate = at.length / (kRateOverMs / 1000);
    panel.rate.dataset.rate = rate;
    const stale = running && now - last > kStaleMs;
    panel.element.classList.toggle("stale", stale || !running);
    panel.rate.textContent = stale ? `No live message for ${number((now - last) / 1000, 0)} s: what is drawn is old` : running ? `${number(rate, 0)} updates a second` : "The run has ended; this is how it stood";
    if (!running) panel.silent();
  }
  const off = [news.on("benches", draw), news.on("live", hear)];
  const timer = setInterval(look, 250);
  addEventListener("theme", panel.redraw);
  panel.element.hidden = true;
  draw();
  return () => {
    off.forEach((end) => end());
    clearInterval(timer);
    removeEventListener("theme", panel.redraw);
  };
}
