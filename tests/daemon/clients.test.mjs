// Fifty live clients, five of whom take nothing: no run is disturbed, those five are dropped by the rule, the others get their ten messages
// a second. The rule is in daemon/http/hub.hpp: who has not taken a message within `stall` (10 s) of its being handed to the socket, or has been
// silent, pongs too, for `silence` (60 s). A bench that plays slowly tells less, and its messages fill the buffers later than that: then the
// run must be longer than the silence (MIDSTICK_WALL_MS).
import assert from "node:assert/strict";
import { test } from "node:test";
import { workshop } from "./support/workshop.mjs";

const kClients = 50, kStalled = 5, kStallMs = 10000, kSilenceMs = 60000;
// The run must outlast the stall. A bench in process plays as fast as the processor allows, so first is seen how fast that is.
const kWallMs = Number(process.env.MIDSTICK_WALL_MS ?? 30000), kLongestMs = 600000;  // board time: what one check may watch
// From the moment a client stops reading, its messages still fill buffers of the operating system at both ends before one is not taken.
const kBuffersFillMs = kWallMs;

/** Board time that the daemon plays in `kWallMs`, ms. */
async function boardMs(shop) {
  const { run } = await shop.end(await shop.submit({ plan: "while" }));
  const { time } = await shop.get(`/api/1/runs/${run.id}/report`);
  return Math.min(kLongestMs, Math.round((time.board_ms / (Date.parse(run.ended) - Date.parse(run.began))) * kWallMs));
}

const kJob = { plan: "long", build: "same", seed: 7 };

/** The report and the capture as they are in any folder, at any time. */
async function answers(shop, run) {
  const text = async (path) => (await shop.ask("GET", `/api/1/runs/${run.id}/${path}`)).text.replaceAll(shop.folder, "");
  const report = JSON.parse(await text("report"));
  delete report.run.when;
  delete report.run.where;
  return { report: JSON.stringify(report), capture: await text("files/capture.json") };
}

/** Messages a second, on average and in the worst second, while the run played. */
function rate(client, run) {
  const at = client.heard.filter((m) => m.type === "live" && m.run === run.id).map((m) => m.at);
  const seconds = Math.floor((at.at(-1) - at[0]) / 1000), each = Array(seconds).fill(0);
  for (const ms of at) if (ms - at[0] < seconds * 1000) ++each[Math.floor((ms - at[0]) / 1000)];
  return { mean: each.reduce((a, b) => a + b, 0) / seconds, worst: Math.min(...each) };
}

const number = (metrics, name) => Number(new RegExp(`^${name} (\\S+)$`, "m").exec(metrics)?.[1]);

test(`${kClients} live clients, ${kStalled} of them stalled`, async (t) => {
  const shops = await Promise.all([1, 2].map(() => workshop(t, { start: false })));
  const [alone, crowded] = shops;
  for (const shop of shops) {
    shop.plan("long", [{ check: "neutral" }]);
    shop.configure({ plans: ["while", "long"] });
    await shop.start();
  }
  const [one, other] = await Promise.all(shops.map(boardMs));
  for (const shop of shops) shop.plan("long", [{ check: "neutral", for_ms: Math.max(one, other) }]);
  const clients = await Promise.all(Array.from({ length: kClients }, () => crowded.live()));
  t.after(() => clients.forEach((client) => client.close()));
  const stalled = clients.slice(0, kStalled), readers = clients.slice(kStalled);
  const jobs = await Promise.all(shops.map((shop) => shop.submit(kJob)));
  await clients[0].until("the run plays", (m) => m.type === "live", 20000);

  for (const client of stalled) client.stall();
  const from = performance.now();
  await crowded.until("the stalled ones are dropped", async () => number(await crowded.get("/metrics"), "midstick_live_dropped_total") === kStalled, kStallMs + kBuffersFillMs);
  const droppedMs = performance.now() - from;
  assert.ok(droppedMs >= kStallMs && (kWallMs > kSilenceMs || droppedMs < kSilenceMs), `dropped after ${droppedMs} ms, for a stall and not for silence`);
  assert.equal((await crowded.get("/api/1/benches/bench-1")).state, "running", "the run outlasted the stall, or this trial shows nothing");
  assert.equal(number(await crowded.get("/metrics"), "midstick_live_clients"), kClients - kStalled);

  const [{ run: quiet }, { run }] = await Promise.all(shops.map((shop, i) => shop.end(jobs[i], 4 * kWallMs)));
  assert.deepEqual([run.state, run.verdict, run.summary], ["complete", quiet.verdict, quiet.summary]);
  const [undisturbed, disturbed] = [await answers(alone, quiet), await answers(crowded, run)];
  assert.ok(undisturbed.report === disturbed.report, "the report is the same, byte for byte");
  assert.ok(undisturbed.capture === disturbed.capture, "the capture is the same, byte for byte");

  for (const client of stalled) client.socket.resume();
  await crowded.until("the stalled ones see that they were dropped", () => stalled.every((c) => c.closed !== null), 10000);
  assert.deepEqual(readers.filter((c) => c.closed !== null).length, 0, "no reader was dropped");
  const rates = readers.map((client) => rate(client, run));
  const mean = Math.min(...rates.map((r) => r.mean)), worst = Math.min(...rates.map((r) => r.worst));
  t.diagnostic(`dropped after ${(droppedMs / 1000).toFixed(1)} s; slowest reader: ${mean.toFixed(1)} messages a second, ${worst} in the worst second`);
  assert.ok(mean >= 10, `the slowest reader got ${mean} messages a second`);
});
