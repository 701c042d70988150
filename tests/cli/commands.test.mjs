// The command line as a daemon's client. By hand: MIDSTICK_BIN=build/bin node --test tests/cli/commands.test.mjs
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { once } from "node:events";
import { createServer } from "node:http";
import { join, resolve } from "node:path";
import { afterEach, test } from "node:test";
import { Stub } from "../browser/stub/server.mjs";
import { World } from "../browser/stub/world.mjs";

const midstick = join(resolve(process.env.MIDSTICK_BIN ?? "build/bin"), "midstick");
const kPatienceMs = 60_000; // only a hang gets near it

let stub, address;
afterEach(async () => {
  await stub?.close();
  assert.deepEqual(stub?.faults ?? [], [], "the stub found something against the contract");
  stub = undefined;
});
async function open(options = {}) {
  stub = new Stub({ playMs: 200, ...options });
  address = (await stub.open()).replace(/\/$/, "");
}

/** Starts the program; `ended` gives { code, out, err }. */
function start(command, args, environment = {}) {
  const child = spawn(command, args, { timeout: kPatienceMs, env: { ...process.env, LANG: "C.UTF-8", LC_ALL: "", TZ: "Europe/Berlin", MIDSTICK_DAEMON: address, MIDSTICK_TOKEN: "", ...environment } });
  const got = { out: "", err: "" };
  child.stdout.on("data", (bytes) => (got.out += bytes));
  child.stderr.on("data", (bytes) => (got.err += bytes));
  return { child, got, ended: new Promise((done) => child.on("close", (code) => done({ code, ...got }))) };
}
const ask = (args, environment) => start(midstick, args, environment).ended;
/** On a terminal so many columns wide. */
const onTerminal = (columns, args) => start("script", ["-qec", `stty cols ${columns}; ${[midstick, ...args].map((a) => `'${a}'`).join(" ")}`, "/dev/null"]).ended;
const lines = (text) => text.split(/\r?\n/).filter((line) => line);

test("runs has a header, and what a pipe gets is whole", async () => {
  await open();
  const { code, out } = await ask(["runs"]);
  assert.equal(code, 0);
  const [head, ...rows] = lines(out);
  assert.deepEqual(head.split(/ {2,}/), ["id", "began", "verdict", "plan", "controller", "build", "bench", "summary"]);
  assert.equal(rows.length, 20, "a row each, none of them in two lines");
  for (const run of stub.world.runs.slice(0, 20)) {
    const row = rows.find((r) => r.startsWith(`${run.id} `));
    for (const value of [run.verdict || run.state, run.plan, run.controller, run.build, run.bench, run.summary]) assert.ok(row.includes(value), `${row} lacks ${value}`);
    const began = new Date(run.began).toLocaleString("sv-SE", { timeZone: "Europe/Berlin" }).slice(0, 16);
    assert.ok(row.includes(began), `${row} lacks ${began}`);
  }
});

test("jobs has a header, the bench or the labels it asks for, and what it waits for", async () => {
  await open();
  for (const request of [{ plan: "soak", bench: "hall bench" }, { plan: "soak", labels: ["real", "slope"] }, { plan: "soak" }]) Object.assign(stub.world.submit(request), { waits_for: "another job on green bench" });
  const { code, out } = await ask(["jobs", "--state", "queued"]);
  assert.equal(code, 0);
  const [head, ...rows] = lines(out);
  assert.deepEqual(head.split(/ {2,}/), ["id", "state", "plan", "controller", "build", "bench", "run", "note"]);
  assert.deepEqual(rows.map((r) => ["hall bench", "labels real, slope", "any"].find((b) => r.includes(` ${b} `))), ["any", "labels real, slope", "hall bench"]);
  for (const row of rows) assert.ok(row.endsWith("waits for another job on green bench"), row);
});

for (const columns of [40, 80, 130])
  test(`lists and a run keep to a terminal of ${columns} columns, and say whole what was found`, async () => {
    await open();
    const run = stub.world.runs.find((r) => r.verdict === "fail"), checks = stub.world.checks(run);
    for (const args of [["runs"], ["jobs"], ["show", String(run.id)]]) {
      const { out } = await onTerminal(columns, args);
      for (const line of lines(out)) assert.ok([...line].length <= columns, `${columns}: ${line}`);
      if (args[0] !== "show") continue;
      const words = out.replace(/\s+/g, " ");
      for (const c of checks) assert.ok(words.includes(c.summary.replace(/\s+/g, " ")), `${columns}: ${c.name} lacks its summary:\n${out}`);
    }
  });

test("a run that plays is shown as running, exit code 2", async () => {
  await open({ playMs: 600_000 });
  const job = stub.world.submit({ plan: stub.world.plans[0].name });
  stub.dispatch();
  const { code, out } = await ask(["show", String(job.run)]);
  assert.equal(code, 2);
  assert.equal(lines(out).at(-1), "running");
});

test("who follows a queued job is told what it waits for, once for each reason", async () => {
  await open();
  const job = stub.world.submit({ plan: stub.world.plans[0].name, bench: "hall bench" });
  job.waits_for = "a bench that is not there: hall bench";
  const { child, got, ended } = start(midstick, ["watch", String(job.id)]);
  const told = async (text) => { while (!got.err.includes(text)) await once(child.stderr, "data"); };
  await told("not there: hall bench\n");
  stub.changed("jobs");
  job.waits_for = "another job on hall bench";
  stub.changed("benches");
  await told("another job on hall bench\n");
  Object.assign(job, { state: "cancelled", waits_for: "", note: "its deadline passed" });
  stub.changed("jobs");
  const { code, out, err } = await ended;
  assert.equal(code, 2);
  assert.deepEqual(lines(err), [`job ${job.id} waits for a bench that is not there: hall bench`, `job ${job.id} waits for another job on hall bench`]);
  assert.equal(out, `job ${job.id}: cancelled: its deadline passed\n`);
});

test("submit --wait follows the run and exits by its verdict", async () => {
  await open();
  const { code, out } = await ask(["submit", stub.world.plans[0].name, "--bench", "virtual bench", "--wait"]);
  assert.equal(code, 1);
  assert.match(out, /^run \d+: fail\n33 passed/);
});

test("stop on idle benches says that nothing was running", async () => {
  await open();
  const all = await ask(["stop"]);
  assert.equal(all.code, 0);
  assert.equal(all.out, "nothing was running\n0 queued jobs cancelled\n");
  assert.equal((await ask(["stop", "--bench", "green bench"])).out, "nothing was running on green bench\n");
});

test("a token that is missing is asked for by name", async () => {
  await open({ token: "a token" });
  const { code, err } = await ask(["runs"]);
  assert.notEqual(code, 0);
  assert.match(err, /--token/);
  assert.match(err, /MIDSTICK_TOKEN/);
});

test("a daemon without its database that stops every bench is told in its own words", async () => {
  await open();
  stub.world.store.state = "away";
  const { code, err } = await ask(["runs"]);
  assert.equal(code, 3);
  assert.match(err, /^midstick: the store of runs is away/);
});

/** A daemon of two answers, for what the stub does not know. */
async function answering(answers, use) {
  const asked = [];
  const server = createServer((request, response) => {
    asked.push(`${request.method} ${request.url}`);
    const [status, body] = answers[request.url] ?? [404, { status: 404, title: "Not found", detail: `there is no ${request.url}` }];
    response.writeHead(status, { "Content-Type": status < 400 ? "application/json" : "application/problem+json" }).end(JSON.stringify(body));
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  address = `http://127.0.0.1:${server.address().port}`;
  try {
    await use(asked);
  } finally {
    server.closeAllConnections();
    await new Promise((done) => server.close(done));
  }
}

test("release lets jobs begin again on a held bench, and says why not on another", () =>
  answering({
    "/api/1/benches/green%20bench/release": [200, { name: "green bench", state: "ready" }],
    "/api/1/benches/desk/release": [409, { status: 409, title: "Conflict", detail: "bench desk is not held" }],
  }, async (asked) => {
    const done = await ask(["release", "green bench"]);
    assert.deepEqual([done.code, done.out], [0, "bench green bench is released\n"]);
    assert.deepEqual(asked, ["POST /api/1/benches/green%20bench/release"]);
    const not = await ask(["release", "desk"]);
    assert.deepEqual([not.code, not.err], [64, "midstick: bench desk is not held\n"]);
    assert.match((await ask(["release", "--help"])).out, /CAUTION: queued jobs begin at once/);
  }));

test("stop while the database is away tells what the daemon did", () =>
  answering({ "/api/1/stop": [503, { status: 503, title: "Store away", detail: "Every bench was told to stop. What waits is cancelled as soon as the database is back." }] }, async () => {
    const { code, err } = await ask(["stop"]);
    assert.deepEqual([code, err], [3, "midstick: Every bench was told to stop. What waits is cancelled as soon as the database is back.\n"]);
  }));
