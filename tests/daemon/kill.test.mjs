// kill -9 at random instants while jobs run. MIDSTICK_KILLS: how often (12; the soak takes 500).
import assert from "node:assert/strict";
import { test } from "node:test";
import { join } from "node:path";
import { digest, holdDatabase, holdEnds, holdEvidence, holdRows } from "./support/sound.mjs";
import { seeded } from "./support/random.mjs";
import { pace } from "./support/until.mjs";
import { workshop } from "./support/workshop.mjs";

const kKills = Number(process.env.MIDSTICK_KILLS ?? 12);
const kLongestMs = 1800;  // from the daemon's start to its kill: long enough to listen, to recover and to finish some runs
const kJudged = 50;       // runs that are judged again at the end; each takes a program start

/** What the daemon said so far, and must never take back. */
class Witness {
  constructor(shop) { Object.assign(this, { shop, acknowledged: new Map(), ended: new Map(), submitted: 0 }); }

  async submit(tries) {
    const build = `submission ${++this.submitted}`;
    const job = await this.shop.submit({ plan: "quick", build, tries });
    this.acknowledged.set(build, job.id);
  }
  see(runs) {
    for (const run of runs.filter((r) => r.ended !== null)) {
      const before = this.ended.get(run.id);
      if (before) assert.deepEqual(run, before.run, `run ${run.id} is as it was when it ended`);
      else this.ended.set(run.id, { run, report: run.state === "complete" && digest(join(this.shop.runFolder(run.id), "report.json")) });
    }
  }
  hold(jobs, runs) {
    this.see(runs);
    for (const [id, { run, report }] of this.ended) {
      assert.ok(runs.some((r) => r.id === id), `run ${id} ended and is still there`);
      if (report) assert.equal(digest(join(this.shop.runFolder(id), "report.json")), report, `report of run ${run.id} is unchanged`);
    }
    for (const [build, id] of this.acknowledged)
      assert.deepEqual(jobs.filter((j) => j.build === build).map((j) => j.id), [id], `${build} was acknowledged and is there once`);
    const builds = jobs.map((j) => j.build);
    assert.equal(new Set(builds).size, builds.length, "no submission is there twice");
  }
}

/** Works with the daemon until it is gone: keeps its queue filled, looks at what has ended. */
async function work(shop, witness, draw) {
  for (let dead = false; !dead; ) {
    try {
      const health = await shop.health();
      if (health.store.state !== "ready") continue;  // not opened yet
      if (health.queued < 3) await witness.submit(1 + Math.floor(draw() * 3));
      witness.see((await shop.get("/api/1/runs?limit=20")).items);
    } catch (error) {
      if (error instanceof assert.AssertionError) throw error;
      dead = shop.daemon.killed;  // else it does not listen yet
      if (!dead && !["ECONNREFUSED", "ENOENT", "ECONNRESET"].includes(error.code)) throw error;
    }
    await pace();
  }
}

test(`${kKills} kills lose nothing and double nothing`, async (t) => {
  const draw = seeded(t), shop = await workshop(t, { benches: 2, start: false }), witness = new Witness(shop);
  const finishedByFolder = new Set();
  for (let kill = 1; kill <= kKills; ++kill) {
    const daemon = shop.launch(), working = work(shop, witness, draw);
    const timer = setTimeout(() => daemon.kill("SIGKILL"), draw() * kLongestMs);
    try {
      await Promise.all([shop.gone, working]);
    } finally {
      clearTimeout(timer);
    }
    assert.equal(await shop.gone, "SIGKILL", `kill ${kill}: it ended before, by itself:\n${shop.said.slice(-2000)}`);
    holdDatabase(shop.keep);
    for (const id of shop.foldersOnDisk()) if (shop.saysComplete(id)) finishedByFolder.add(id);
  }
  await shop.start();
  await shop.until("every job has ended", async () => {
    const now = await shop.health();
    return now.queued === 0 && now.benches.running === 0 && (await shop.get("/api/1/jobs?state=running")).items.length === 0;
  }, 120000);
  const jobs = await shop.all("/api/1/jobs"), runs = await shop.all("/api/1/runs");
  holdRows(jobs, runs);
  holdEnds(jobs, runs);
  witness.hold(jobs, runs);
  for (const id of finishedByFolder)
    assert.equal(runs.find((r) => r.id === id)?.state, "complete", `run ${id} was finished on disk when the daemon was killed`);
  for (const id of shop.foldersOnDisk()) assert.ok(runs.some((r) => r.id === id), `folder of run ${id} has its row`);
  const complete = await holdEvidence(shop, runs, kJudged);
  assert.equal(await shop.stop(), 0);
  assert.ok(holdDatabase(shop.keep));
  const interrupted = runs.filter((r) => r.state === "interrupted").length;
  t.diagnostic(`${kKills} kills, ${jobs.length} jobs (${witness.acknowledged.size} acknowledged), ${runs.length} runs: ${complete} complete, ${interrupted} interrupted`);
  assert.ok(complete > 0 && interrupted > 0, "runs were finished, and runs were interrupted, or this trial shows nothing");
});
