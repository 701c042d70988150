// Pulses and controller power go off by themselves when the daemon dies, and first of all when it is told to end. On midstick-virtual in
// real time, measured on its own record of true edges. MIDSTICK_KILLS: how often it dies (3; the soak takes 50).
//
// The stated time: protocol/PROTOCOL.md, "without a good command for the refresh time of start the board goes safe by itself"; the engine asks
// for `refreshMs`.
import assert from "node:assert/strict";
import { test } from "node:test";
import { seeded } from "./support/random.mjs";
import { VirtualBench, refreshMs } from "./support/virtual.mjs";
import { workshop } from "./support/workshop.mjs";

const kKills = Number(process.env.MIDSTICK_KILLS ?? 3);
// The last edge before the kill, from which is measured, is up to one frame of 20 ms old, and what the daemon wrote last lies up to some
// ms in the pseudo-terminal until the bench process comes to read it.
const kSlackMs = 50;

async function bench(t) {
  const shop = await workshop(t, { start: false }), bench = new VirtualBench(shop, "desk");
  await bench.plugged();
  shop.configure({ benches: [bench.config()] });
  return { shop, bench };
}

/** A run with pulses going out and the controller powered. */
async function play(shop, bench) {
  await shop.submit({ plan: "watch" });
  const before = bench.look().length;
  await shop.until("the controller is powered and gets pulses", () =>
    bench.powered() && bench.edges.slice(before).filter((e) => e.wire === "stimulus").length > 20, 20000);
}

test(`killed ${kKills} times mid-run: pulses and power off within the refresh time`, async (t) => {
  const draw = seeded(t), { shop, bench: desk } = await bench(t), took = [];
  for (let kill = 1; kill <= kKills; ++kill) {
    await shop.start();
    await play(shop, desk);
    const at = Date.now() + draw() * 1000;
    await shop.until("the random instant", () => Date.now() >= at, 2000);
    const killed = shop.kill();
    const seen = desk.last((e) => e.wire === "stimulus").ms;  // the kill came after this edge
    await killed;
    await shop.until("controller power off", () => !desk.powered(), refreshMs + 5000);
    const off = desk.last((e) => e.wire === "relay").ms;
    took.push(off - seen);
    assert.ok(off - seen <= refreshMs + kSlackMs, `power went off ${(off - seen).toFixed(0)} ms after the last edge before the kill; ${refreshMs} are stated`);
    assert.deepEqual([...new Set(desk.pulses())], [0], "every stimulus line is low");
    const after = desk.last((e) => e.wire === "stimulus").ms;
    assert.ok(after <= off + 1, `the last edge of a pulse, at ${after} ms, is not after power went, at ${off} ms`);
  }
  // On the bench's own time, so it holds also where the machine could not keep the emulation in real time.
  t.diagnostic(`off after ${took.map((ms) => ms.toFixed(0)).join(", ")} ms; stated ${refreshMs}; emulation ${desk.behindMs()} ms behind`);
});

test("told to end mid-run: pulses and power are off before the daemon is gone", async (t) => {
  const { shop, bench: desk } = await bench(t);
  await shop.start();
  await play(shop, desk);
  const asked = Date.now();
  assert.equal(await shop.stop(), 0);
  // The bench process may write its record some ms later; the board by itself would take the refresh time.
  await shop.until("controller power off", () => !desk.powered(), 100);
  assert.deepEqual([...new Set(desk.pulses())], [0]);
  t.diagnostic(`clean stop in ${Date.now() - asked} ms`);
  await shop.start();
  const [job] = await shop.all("/api/1/jobs");
  assert.notEqual(job.state, "running", "what was stopped does not stand there as running");
});
