// Pulses of the stub's failing run: sticks driven about, outputs that follow, and the failures where night.json says they were.
import { readFileSync } from "node:fs";

export const night = JSON.parse(readFileSync(new URL("night.json", import.meta.url), "utf8"));

const kFrameMs = 20, kLateMs = 12, kBandMostMs = 20_000, kSilentMs = 100;
const kTolerance = { neutral: 15, "static-mix": 10, "mid-pulse": 15, "torn-value": 50, "random-sticks": 15, receiver: 30, "signal-loss": 0 }; ///< us, by kind
const losses = night.checks.filter((c) => ["signal-loss", "receiver"].includes(c.name)).flatMap((c) => c.evidence.map((e) => ({ from: e.from_ms, to: e.to_ms })));
const segments = night.checks.flatMap((c) => c.played.map(([from, to]) => ({ check: c.name, from_ms: from, to_ms: to, tolerance_us: kTolerance[c.kind] ?? null }))).sort((a, b) => a.from_ms - b.from_ms);

const round = (value, step) => Math.round(value / step) * step;
const wobble = (n) => (((n * 2654435761) >>> 0) % 1000) / 1000 - 0.5;
const loss = (ms) => losses.find((l) => ms >= l.from && ms < l.to + 60);

export function sticks(ms) {
  const t = ms / 1000;
  return [1500 + 300 * Math.sin(t * 0.9) * Math.min(1, t), 1500 + 220 * Math.sin(t * 0.55 + 1)];
}
const clamp = (us) => Math.min(2000, Math.max(1000, us));
export function outputs(ms) {
  const [throttle, steering] = sticks(ms - kLateMs);
  return [clamp(throttle + (steering - 1500) * 0.6), clamp(throttle - (steering - 1500) * 0.6)];
}

function pulses(from, to, shift, width, silent) {
  const out = [];
  for (let n = Math.ceil((from - shift) / kFrameMs); n * kFrameMs + shift < to; ++n) {
    const ms = n * kFrameMs + shift;
    if (ms >= 0 && !silent(ms)) out.push([Number(ms.toFixed(3)), Number(round(width(ms, n), 0.01).toFixed(2))]);
  }
  return out;
}

/** Of each stretch the narrowest and the widest, as the daemon does. */
function thin(list, most) {
  if (list.length <= most) return { pulses: list, thinned: false };
  const stretches = Math.max(1, Math.floor(most / 2)), kept = [];
  for (let i = 0; i < stretches; ++i) {
    const part = list.slice((list.length * i) / stretches, (list.length * (i + 1)) / stretches);
    const sorted = [...part].sort((a, b) => a[1] - b[1]);
    const both = [...new Set([sorted[0], sorted.at(-1)])].filter(Boolean).sort((a, b) => a[0] - b[0]);
    kept.push(...both);
  }
  return { pulses: kept, thinned: true };
}

/** Where no pulse began for more than 100 ms, told before thinning. */
function silences(list, from, to) {
  const edges = [from, ...list.map(([ms]) => ms), to];
  return edges.slice(1).map((ms, i) => [edges[i], ms]).filter(([a, b]) => b - a > kSilentMs);
}

/** Outputs keep their last value while a loss lasts, as the faulty build does; half a second of that is allowed. */
function output(side) {
  return (ms, n) => {
    const l = loss(ms);
    return outputs(l ? l.from : ms)[side] + wobble(n * 2 + side) * 0.4;
  };
}

function band(side, list) {
  return list.map(([ms]) => {
    const l = loss(ms);
    if (l && ms - l.from > 500) return [ms, 1495, 1505];
    const middle = outputs(l ? l.from : ms)[side], half = 10 + (segments.find((s) => ms >= s.from_ms && ms < s.to_ms)?.tolerance_us ?? 0);
    return [ms, Number((middle - half).toFixed(2)), Number((middle + half).toFixed(2))];
  });
}

function escStates(side, from, to) {
  const states = [];
  for (let ms = from; ms < to; ms += 10) {
    const l = loss(ms), us = outputs(l ? l.from : ms)[side];
    const state = us > 1530 ? "forward" : us < 1470 ? "reverse" : "neutral";
    if (states.at(-1)?.[1] !== state) states.push([Number(ms.toFixed(3)), state]);
  }
  return states;
}

/** `biasUs`: how far both outputs are off all the time. */
export function slice(run, from = 0, to = night.total_ms, points = 1000, biasUs = 0) {
  to = Math.min(to, night.total_ms);
  from = Math.min(from, to);
  const line = (name, side, shift, width, silent) => {
    const all = pulses(from, to, shift, width, silent);
    return { name, side, ...thin(all, points), silent: silences(all, from, to) };
  };
  const lost = (ms) => Boolean(loss(ms));
  const lines = [line("throttle", "stick", 0, (ms) => sticks(ms)[0], lost), line("steering", "stick", 2.5, (ms) => sticks(ms)[1], lost),
    ...["left", "right"].map((name, i) => line(name, "output", 6 + i / 100, (ms, n) => output(i)(ms, n) + biasUs, () => false))];
  const held = to - from <= kBandMostMs;
  const side = (name) => ["left", "right"].indexOf(name);
  return {
    run, from_ms: from, to_ms: to, total_ms: night.total_ms, lines,
    expected: held ? lines.slice(2).map((l) => ({ name: l.name, band: band(side(l.name), l.pulses) })) : [],
    esc: lines.slice(2).map((l) => ({ name: l.name, states: to - from < 60_000 ? escStates(side(l.name), from, to) : [] })),
    segments: segments.filter((s) => s.to_ms > from && s.from_ms < to),
  };
}

/** report.json's part on checks. */
export function report() {
  const at = (ms) => ({ ticks: Math.round(ms * 16_000), us: ms * 1000 });
  const checks = night.checks.map(({ played, evidence, ...c }) => ({ ...c,
    evidence: evidence.map((e) => ({ begin: at(e.from_ms), end: at(e.to_ms), label: e.label, failing: e.failing, stimulus: [], response: ["left", "right"] })) }));
  return { version: 1, verdict: "fail", summary: "33 passed, 4 failed, 1 inconclusive, 1 not run. First: random-sticks.", checks };
}
