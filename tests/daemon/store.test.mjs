// The store in trouble: nearly full, full, read-only from the start, read-only in mid-flight, its database gone and back.
import assert from "node:assert/strict";
import { mkdirSync, readdirSync, renameSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { Disk, cannotMount } from "./support/disk.mjs";
import { degraded, mended, nothingLost, trySubmit } from "./support/outage.mjs";
import { holdDatabase, holdEvidence, holdRows } from "./support/sound.mjs";
import { workshop } from "./support/workshop.mjs";

const kMegabytes = 500, kNearlyFull = 100e6;  // the daemon begins nothing below 200 MB, see daemon/service/work.hpp
const skip = cannotMount();

/** Everything that must hold when a trouble is over. */
async function sound(shop, jobs) {
  await mended(shop);
  await nothingLost(shop, jobs);
  const runs = await shop.all("/api/1/runs");
  holdRows(await shop.all("/api/1/jobs"), runs);
  await holdEvidence(shop, runs, 1);
  assert.equal(await shop.stop(), 0);
  assert.ok(holdDatabase(shop.keep));
}

test("a disk that is nearly full: jobs wait, and begin when there is room", { skip }, async (t) => {
  const shop = await workshop(t, { start: false }), disk = Disk.inMemory(shop, kMegabytes);
  await shop.start();
  const first = await shop.submit({ plan: "quick", build: "before" });
  await shop.end(first);
  disk.fill(kNearlyFull);
  await degraded(shop, /disk|space|free|full/i);
  const waiting = await shop.submit({ plan: "quick", build: "meanwhile" });
  const seen = await shop.get(`/api/1/jobs/${waiting.id}`);
  assert.equal(seen.state, "queued");
  assert.match(seen.waits_for, /disk|space|free|full|room/i, "the job says what it waits for");
  disk.clear();
  await sound(shop, [first, waiting]);
});

test("a disk that fills up while a run plays", { skip }, async (t) => {
  const shop = await workshop(t, { start: false }), disk = Disk.inMemory(shop, kMegabytes);
  await shop.start();
  const jobs = [await shop.submit({ plan: "quick", build: "before" })];
  await shop.end(jobs[0]);
  jobs.push(await shop.submit({ plan: "while", build: "playing" }));
  await shop.running();
  disk.fill(0);
  await degraded(shop, /disk|space|full/i);
  jobs.push(await trySubmit(shop, { plan: "quick", build: "meanwhile" }));
  await shop.until("the run has come to its end", async () => (await shop.get("/api/1/benches/bench-1")).state !== "running", 60000);
  jobs.push(await trySubmit(shop, { plan: "quick", build: "after its end" }));
  disk.clear();
  jobs.push(await shop.until("jobs are taken again", () => trySubmit(shop, { plan: "quick", build: "afterwards" }), 30000));
  await sound(shop, jobs);
});

test("a store that is read-only when the daemon starts", { skip }, async (t) => {
  const shop = await workshop(t, { start: false, listen: { socket: "midstick.sock" } }), disk = Disk.inMemory(shop, kMegabytes);
  await shop.start();
  const before = await shop.submit({ plan: "quick", build: "before" });
  await shop.end(before);
  assert.equal(await shop.stop(), 0);
  disk.remount("ro");
  await shop.start({ store: "away" });
  await degraded(shop, /read-?only/i);
  assert.equal(await trySubmit(shop, { plan: "quick", build: "meanwhile" }), null, "nothing is acknowledged that cannot be kept");
  disk.remount("rw");
  await mended(shop);
  const after = await shop.submit({ plan: "quick", build: "afterwards" });
  await sound(shop, [before, after]);
});

test("a disk that fails and goes read-only while a run plays", { skip }, async (t) => {
  const shop = await workshop(t, { start: false }), disk = Disk.inFile(shop, kMegabytes);
  await shop.start();
  const jobs = [await shop.submit({ plan: "quick", build: "before" })];
  await shop.end(jobs[0]);
  jobs.push(await shop.submit({ plan: "while", build: "playing", tries: 2 }));
  await shop.running();
  disk.fail();
  // Nothing is written until the run ends, and what is read is in memory: so it is seen at the end of the run at the latest. Both words are true.
  await degraded(shop, /read-?only|disk I\/O error/i, 60000);
  assert.equal(await trySubmit(shop, { plan: "quick", build: "meanwhile" }), null, "nothing is acknowledged that cannot be kept");
  await shop.stop();  // such a disk comes back writable only with a check, and for that its files must be closed
  disk.repair();
  await shop.start();
  await sound(shop, jobs);
});

test("the database file gone, and back", async (t) => {
  const shop = await workshop(t);
  const jobs = [await shop.submit({ plan: "quick", build: "before" })];
  await shop.end(jobs[0]);
  jobs.push(await shop.submit({ plan: "while", build: "playing" }));
  await shop.running();
  const away = join(shop.folder, "away"), files = readdirSync(shop.keep).filter((name) => /\.(sqlite3?|db)(-\w+)?$/.test(name));
  assert.ok(files.length > 0, `a database is in ${readdirSync(shop.keep)}`);
  mkdirSync(away);
  for (const name of files) renameSync(join(shop.keep, name), join(away, name));
  await degraded(shop, /gone|missing|not there/i);
  assert.equal(await trySubmit(shop, { plan: "quick", build: "meanwhile" }), null, "nothing is acknowledged that cannot be kept");
  assert.equal((await shop.get("/api/1/benches/bench-1")).state, "running", "what plays goes on");
  const health = await shop.until("the run's end waits for the database", async () => {
    const now = await shop.health();
    return now.store.unsaved_runs === 1 ? now : null;
  }, 60000);
  assert.equal(health.state, "degraded");
  for (const name of files) renameSync(join(away, name), join(shop.keep, name));
  await mended(shop);
  const { run } = await shop.end(jobs[1]);
  assert.deepEqual([run.state, run.verdict], ["complete", "pass"], "the run that ended meanwhile is there as it ended");
  await sound(shop, jobs);
});
