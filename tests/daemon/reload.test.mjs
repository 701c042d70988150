// The configuration changed under a running daemon: SIGHUP, or POST /api/1/reload.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { ask } from "./support/ask.mjs";
import { workshop } from "./support/workshop.mjs";

const names = async (shop, what) => (await shop.get(`/api/1/${what}`)).map((item) => item.name).sort();

for (const way of ["SIGHUP", "POST"]) {
  const reload = (shop) => (way === "SIGHUP" ? (shop.signal(way), null) : shop.ask("POST", "/api/1/reload"));

  test(`${way} while a run plays: the run goes on, the new plan and bench are there`, async (t) => {
    const shop = await workshop(t, { plans: ["while"] });
    const playing = await shop.submit({ plan: "while" });
    await shop.running();
    shop.configure({ plans: ["while", "quick"], benches: 2 });
    const answer = await reload(shop);
    if (answer) assert.equal(answer.status, 200, answer.text);
    await shop.until("the new bench is there", async () => (await names(shop, "benches")).includes("bench-2"), 10000);
    assert.deepEqual(await names(shop, "plans"), ["quick", "while"]);
    const { run: other } = await shop.end(await shop.submit({ plan: "quick", bench: "bench-2" }));
    assert.deepEqual([other.state, other.verdict, other.bench], ["complete", "pass", "bench-2"]);
    const { job, run } = await shop.end(playing);
    assert.deepEqual([job.state, job.begun, run.state, run.verdict], ["done", 1, "complete", "pass"], "the run was not dropped");
  });

  test(`${way} takes away the bench that plays: its run ends, then the bench goes`, async (t) => {
    const shop = await workshop(t, { benches: 2, plans: ["while"] });
    const playing = await shop.submit({ plan: "while", bench: "bench-2" });
    await shop.running("bench-2");
    shop.configure({ plans: ["while"], benches: 1 });
    await reload(shop);
    const { run } = await shop.end(playing);
    assert.deepEqual([run.state, run.verdict], ["complete", "pass"]);
    await shop.until("the bench is gone", async () => (await names(shop, "benches")).join() === "bench-1", 10000);
  });

  test(`${way} with a broken configuration: the old one goes on, the error names file and place`, async (t) => {
    const shop = await workshop(t, { plans: ["quick"] });
    const broken = {
      "a member that is unknown": ["/benches/0", (c) => (c.benches[0].colour = "red")],
      "a plan that is not there": ["/plans/0", (c) => (c.plans[0].file = "none.json")],
      "a night of no plan": ["/nights/0", (c) => (c.nights = [{ name: "n", plan: "nothing", at: "02:30" }])],
    };
    const good = JSON.parse(readFileSync(shop.configure({ plans: ["quick"] }), "utf8"));
    for (const [what, [place, spoil]] of Object.entries(broken)) {
      const bad = structuredClone(good);
      spoil(bad);
      shop.write("daemon.json", bad);
      const before = shop.said.length, answer = await reload(shop);
      if (answer) assert.equal(answer.status, 422, answer.text);
      const told = () => (answer ? answer.text : shop.said.slice(before));
      await shop.until(`${what}: the error names the file`, () => told().includes("daemon.json"), 10000);
      assert.ok(told().includes(place), `${what}: the error names the place ${place}: ${told()}`);
      assert.deepEqual(await names(shop, "plans"), ["quick"]);
    }
    shop.write("daemon.json", "{ \"format\": ");
    const before = shop.said.length, answer = await reload(shop);
    await shop.until("half a file is refused by name", () => (answer ? answer.text : shop.said.slice(before)).includes("daemon.json"), 10000);
    const { run } = await shop.end(await shop.submit({ plan: "quick" }));
    assert.equal(run.verdict, "pass", "it works on as before");
  });
}

test("a controller taken away: its job that waited is not played without the prepare command", async (t) => {
  const shop = await workshop(t);
  const playing = await shop.submit({ plan: "while" });
  await shop.running();
  const waiting = await shop.submit({ plan: "quick", tries: 2 });
  const config = JSON.parse(readFileSync(join(shop.folder, "daemon.json"), "utf8"));
  config.controllers = [{ name: "another" }];
  for (const plan of config.plans) plan.controller = "another";
  shop.write("daemon.json", config);
  assert.equal((await shop.ask("POST", "/api/1/reload")).status, 200);
  assert.equal((await shop.end(playing)).run.verdict, "pass", "what plays goes on");
  const { job, run } = await shop.end(waiting), gone = 'controller "mower" is not in the configuration any more';
  assert.deepEqual([job.begun, run.state, run.summary], [1, "error", gone]);
  const replayed = await shop.ask("POST", `/api/1/runs/${(await shop.end(playing)).run.id}/replay`);
  assert.deepEqual([replayed.status, replayed.body.detail], [409, gone]);
});

test("the last token revoked: refused, since without any token everybody would be let in", async (t) => {
  const shop = await workshop(t, { start: false }), secret = "a".repeat(64);
  shop.configure({ tokens: [{ name: "one", sha256: createHash("sha256").update(secret).digest("hex"), scope: "admin", expires: null }] });
  shop.headers = { Authorization: `Bearer ${secret}` };
  await shop.start();
  shop.write("tokens.json", { tokens: [] });
  const answer = await shop.ask("POST", "/api/1/reload");
  assert.equal(answer.status, 422, answer.text);
  assert.match(answer.body.detail, /tokens\.json: tokens: found none; expected at least one/);
  const stranger = await ask({ port: Number(new URL(shop.url).port) }, "POST", "/api/1/stop");
  assert.equal(stranger.status, 401, "the token that was there still guards");
});
