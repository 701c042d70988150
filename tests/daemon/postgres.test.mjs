// The daemon on PostgreSQL, stopped while a run plays and started again.
import assert from "node:assert/strict";
import { test } from "node:test";
import { degraded, mended, nothingLost, trySubmit } from "./support/outage.mjs";
import { Postgres, noPostgres } from "./support/postgres.mjs";
import { holdEvidence, holdRows } from "./support/sound.mjs";
import { workshop } from "./support/workshop.mjs";

test("PostgreSQL stopped while a run plays, and started again", { skip: noPostgres }, async (t) => {
  const shop = await workshop(t, { start: false }), server = await Postgres.open();
  shop.atClose.push(() => server.close());
  shop.configure({ database: server.connection });
  await shop.start();
  assert.equal((await shop.health()).store.kind, "postgresql");
  const jobs = [await shop.submit({ plan: "quick", build: "before" })];
  await shop.end(jobs[0]);
  jobs.push(await shop.submit({ plan: "while", build: "playing" }));
  await shop.running();
  await server.stop();
  await degraded(shop, /connect|server|terminat|closed/i);
  assert.equal(await trySubmit(shop, { plan: "quick", build: "meanwhile" }), null, "nothing is acknowledged that cannot be kept");
  await shop.until("the run's end waits for the database", async () => (await shop.health()).store.unsaved_runs === 1, 60000);
  await server.start();
  await mended(shop);
  const { run } = await shop.end(jobs[1]);
  assert.deepEqual([run.state, run.verdict], ["complete", "pass"], "the run that ended meanwhile is there as it ended");
  jobs.push(await shop.submit({ plan: "quick", build: "afterwards" }));
  await nothingLost(shop, jobs);
  const runs = await shop.all("/api/1/runs");
  holdRows(await shop.all("/api/1/jobs"), runs);
  await holdEvidence(shop, runs, 1);
});

test("started while PostgreSQL is not there: it takes jobs as soon as it is", { skip: noPostgres }, async (t) => {
  const shop = await workshop(t, { start: false }), server = await Postgres.open();
  shop.atClose.push(() => server.close());
  await server.stop();
  shop.configure({ database: server.connection });
  await shop.start({ store: "away" });
  await degraded(shop, /connect|server/i);
  await server.start();
  await mended(shop);
  await nothingLost(shop, [await shop.submit({ plan: "quick", build: "afterwards" })]);
});
