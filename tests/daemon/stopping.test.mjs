// A person's stop is the last word: by the stop loop, or by Stop while the database is away. Nothing that was stopped begins again by itself.
import assert from "node:assert/strict";
import { mkdirSync, readdirSync, renameSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { degraded, mended } from "./support/outage.mjs";
import { VirtualBench } from "./support/virtual.mjs";
import { workshop } from "./support/workshop.mjs";

const powered = (bench) => bench.look().filter((e) => e.wire === "relay" && e.level === 1).length;

test("a pressed stop loop ends the job, and holds the bench until a person releases it", async (t) => {
  const shop = await workshop(t, { start: false });
  // A button: closed again after half a second.
  const desk = new VirtualBench(shop, "desk", ["stop-loop=15000:open", "stop-loop=15500:closed"]);
  await desk.plugged();
  shop.configure({ benches: [desk.config(), { name: "other", address: "virtual:controller.json" }] });
  await shop.start();
  const stopped = await shop.submit({ plan: "watch", bench: "desk", tries: 3 });
  await shop.running("desk");
  const waiting = await shop.submit({ plan: "quick", bench: "desk" });
  const { job, run } = await shop.end(stopped);
  assert.deepEqual([job.state, job.begun, run.state], ["done", 1, "incomplete"], "it is not tried again");
  assert.match(run.summary, /stop_loop_open/);
  const held = await shop.get("/api/1/benches/desk");
  assert.equal(held.state, "held");
  assert.match(held.detail, new RegExp(`run ${run.id}: .*stop loop`));
  assert.equal((await shop.health()).benches.held, 1);

  // Whatever the daemon would begin, it begins no later than a job that came after.
  await shop.end(await shop.submit({ plan: "quick", bench: "other" }));
  const still = await shop.get(`/api/1/jobs/${waiting.id}`);
  assert.deepEqual([still.state, still.waits_for], ["queued", "a person to release desk, where the stop loop opened"]);
  assert.deepEqual([powered(desk), desk.powered()], [1, false], "the controller was powered for that one run only");

  const released = await shop.ask("POST", "/api/1/benches/desk/release");
  assert.equal(released.status, 200, released.text);
  const { run: after } = await shop.end(waiting);
  assert.deepEqual([after.state, after.verdict], ["complete", "pass"]);
  assert.equal((await shop.ask("POST", "/api/1/benches/desk/release")).status, 409, "there is nothing to release any more");
});

test("Stop while the database is away: what waited does not begin when it is back", async (t) => {
  const shop = await workshop(t);
  const plays = await shop.submit({ plan: "watch", tries: 2 });
  await shop.running();
  const waits = await shop.submit({ plan: "quick" });
  const away = join(shop.folder, "away"), files = readdirSync(shop.keep).filter((name) => /\.(sqlite3?|db)(-\w+)?$/.test(name));
  mkdirSync(away);
  for (const name of files) renameSync(join(shop.keep, name), join(away, name));
  await degraded(shop, /gone|missing|not there/i);
  const answer = await shop.ask("POST", "/api/1/stop");
  assert.equal(answer.status, 503, answer.text);
  assert.match(answer.body.detail, /^Every bench was told to stop\. What waits is cancelled as soon as the database is back/);
  await shop.until("the bench has stopped", async () => (await shop.get("/api/1/benches/bench-1")).state === "ready", 20000);
  for (const name of files) renameSync(join(away, name), join(shop.keep, name));
  await mended(shop);
  const ended = await shop.end(waits), first = await shop.end(plays);
  assert.deepEqual([ended.job.state, ended.job.begun], ["cancelled", 0], ended.job.note);
  assert.match(ended.job.note, /^stopped by /);
  assert.deepEqual([first.job.state, first.job.begun, first.run.state], ["done", 1, "incomplete"]);
  // The next one is a new wish.
  assert.equal((await shop.end(await shop.submit({ plan: "quick" }))).run.verdict, "pass");
});
