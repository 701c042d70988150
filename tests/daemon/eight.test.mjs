// Eight benches at once. MIDSTICK_SECONDS: how long each of the two forms plays (10; the soak takes 1800).
//   in process: the virtual benches run inside the daemon, as fast as the processors allow: many runs, memory.
//   in real time: eight midstick-virtual on pseudo-terminals: the daemon's own share of a processor, and the serial path.
import assert from "node:assert/strict";
import { cpus } from "node:os";
import { test } from "node:test";
import { usage, watch } from "./support/usage.mjs";
import { VirtualBench } from "./support/virtual.mjs";
import { workshop } from "./support/workshop.mjs";

const kSeconds = Number(process.env.MIDSTICK_SECONDS ?? 10), kBenches = 8;
const kQueued = 4;      // jobs kept waiting, so that a bench that comes free finds one
// Growth of resident memory from the first tenth to the end. What the daemon keeps in memory is bounded, so all that may come is the odd page of
// an allocator that serves 15 threads; measured 0 to 3 MB. A run's capture is 150 kB at least: in half an hour one kept by mistake of every
// run makes hundreds of MB, and 10 kB a run are seen too. The short form sees only the gross.
const kGrowthMb = 16;
const kDrainMs = Math.max(120, kSeconds) * 1000;  // for what still plays and waits; nothing is judged by it
const kStampTicks = 2;  // a stamp of an input capture is bound to one tick, and so is the first edge, from which is counted
const kAfterwards = 4;  // edges on a line after capture has ended and before power is off: two pulses at most

/** Keeps every bench at work for `seconds`, then lets what plays end. */
async function work(shop, plan, seconds) {
  const heard = await shop.live();
  const fed = await watch(shop.daemon.pid, seconds, async () => {
    const { queued } = await shop.health();
    for (let i = queued; i < kQueued; ++i) await shop.submit({ plan });
    await heard.change();
  });
  heard.close();
  await shop.until("the last runs end", async () => (await shop.all("/api/1/jobs")).every((j) => !["queued", "running"].includes(j.state)), kDrainMs);
  return fed;
}

function holdMemory(t, { first_mb, last_mb, peak_mb, threads }) {
  t.diagnostic(`resident: ${first_mb.toFixed(1)} MB after the first tenth, ${last_mb.toFixed(1)} MB at the end, ${peak_mb.toFixed(1)} MB at most, ${threads} threads`);
  assert.ok(last_mb - first_mb <= kGrowthMb, `memory grew by ${(last_mb - first_mb).toFixed(1)} MB; at most ${kGrowthMb} are fair`);
}

/** No edge lost on any run. */
async function noEdgeLost(shop) {
  const runs = await shop.all("/api/1/runs");
  for (const run of runs) {
    const { events } = await shop.get(`/api/1/runs/${run.id}/report`);
    assert.deepEqual(events.filter((e) => e.kind === "edges_lost"), [], `run ${run.id} lost no edge`);
  }
  return runs;
}

/** Every run complete and passed, on all of these benches: { edges, wrong }, how many edges there were and which runs were not so. `each`: told run and capture. */
async function readRuns(shop, runs, benches, each = () => {}) {
  let edges = 0;
  const wrong = [];
  for (const run of runs) {
    const capture = await shop.get(`/api/1/runs/${run.id}/files/capture.json`);
    edges += capture.response.delta_ticks.length;
    if (run.state === "complete" && run.verdict === "pass" && capture.complete) each(run, capture);
    else wrong.push(`run ${run.id} on ${run.bench}: ${run.state}, ${run.verdict || "no verdict"}: ${capture.incomplete_reason || run.summary}`);
  }
  assert.deepEqual([...new Set(runs.map((r) => r.bench))].sort(), benches, "every bench played");
  return { edges, wrong };
}

/** Ticks of a capture's response edges, those of each line by themselves. */
function ticksByLine({ response }) {
  const lines = new Map();
  let tick = 0;
  response.delta_ticks.forEach((delta, i) => {
    const line = response.line_level[i] >> 1;
    tick += delta;
    (lines.get(line) ?? lines.set(line, []).get(line)).push(tick);
  });
  return lines;
}

/** What was captured while the controller was powered is what its pins did, edge by edge, by the bench's own record. */
function holdAgainstTruth(bench, captures) {
  const sessions = [];
  for (const edge of bench.look()) {
    if (edge.wire === "relay" && edge.level) sessions.push(new Map());
    if (edge.wire === "response" && sessions.length) (sessions.at(-1).get(edge.line) ?? sessions.at(-1).set(edge.line, []).get(edge.line)).push(edge.cycle);
  }
  bench.edges = [];
  assert.equal(sessions.length, captures.length, `${bench.name} was powered once for each run`);
  captures.forEach((lines, i) => {
    const offset = [...lines.values()][0][0] - [...sessions[i].values()][0][0];  // board ticks began when the board had started
    for (const [line, ticks] of lines) {
      const truth = sessions[i].get(line);
      const wrong = ticks.findIndex((tick, n) => Math.abs(tick - truth[n] - offset) > kStampTicks);
      assert.equal(wrong, -1, `${bench.name}, power-on ${i + 1}, line ${line}: edge ${wrong} of ${ticks.length} is at ${ticks[wrong]}, in truth at ${truth[wrong] + offset}`);
      assert.ok(truth.length - ticks.length <= kAfterwards, `${bench.name}, power-on ${i + 1}, line ${line}: ${ticks.length} edges captured of ${truth.length}`);
    }
  });
}

test("eight benches in process", async (t) => {
  const shop = await workshop(t, { benches: kBenches });
  const used = await work(shop, "drive", kSeconds);
  const runs = await noEdgeLost(shop), { edges, wrong } = await readRuns(shop, runs, Array.from({ length: kBenches }, (_, i) => `bench-${i + 1}`));
  t.diagnostic(`${kSeconds} s: ${runs.length} runs, ${edges} edges, none lost; ${used.share.toFixed(2)} of ${cpus().length} processors with the emulation in it`);
  assert.deepEqual(wrong, [], "every run complete and passed");
  holdMemory(t, used);
});

// Real time cannot wait: on a machine that is busy with something else a board that hears nothing goes safe, as it must.
const kRealTime = process.env.MIDSTICK_SECONDS ? {} : { skip: "needs two idle processors: MIDSTICK_SECONDS=10, or the soak" };
test("eight benches on serial ports in real time", kRealTime, async (t) => {
  const shop = await workshop(t, { start: false });
  const benches = Array.from({ length: kBenches }, (_, i) => new VirtualBench(shop, `desk-${i + 1}`));
  await Promise.all(benches.map((b) => b.plugged()));
  shop.configure({ benches: benches.map((b) => b.config()) });
  await shop.start();
  const before = benches.map((b) => usage(b.process.pid).cpu_s), start = performance.now();
  const used = await work(shop, "quick", kSeconds);
  const emulation = benches.reduce((sum, b, i) => sum + usage(b.process.pid).cpu_s - before[i], 0) / ((performance.now() - start) / 1000);
  const runs = await noEdgeLost(shop), behind = Math.max(...benches.map((b) => b.behindMs()));
  // A bench that stands still for a while has a clock that changes its rate, and that run is cut short, rightly.
  if (behind > 0) return t.skip(`beside its other work this machine cannot carry ${kBenches} benches in real time (${behind} ms behind); no edge was lost in ${runs.length} runs`);
  const captured = new Map(benches.map((b) => [b.name, []]));
  const { edges, wrong } = await readRuns(shop, runs, benches.map((b) => b.name), (run, capture) => captured.get(run.bench).unshift(ticksByLine(capture)));
  t.diagnostic(`${kSeconds} s: ${runs.length} runs, ${edges} edges, none lost; the daemon itself took ${used.share.toFixed(3)} processors, the eight emulations ${emulation.toFixed(2)} of ${cpus().length}`);
  assert.deepEqual(wrong, [], "every run complete and passed");
  for (const bench of benches) holdAgainstTruth(bench, captured.get(bench.name));
  holdMemory(t, used);
});
