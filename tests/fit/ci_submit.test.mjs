// scripts/ci-submit against the daemon in memory that the browser tests use, which holds itself to the contract.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, test } from "node:test";
import { fileURLToPath } from "node:url";
import { Stub } from "../browser/stub/server.mjs";
import { World } from "../browser/stub/world.mjs";

const script = fileURLToPath(new URL("../../scripts/ci-submit", import.meta.url));
const kPlan = "bank mower, nightly", kToken = "a token of scope run";
const kLongRun = 600_000; // ms: does not end while a test runs

/** Its runs end as `outcome` says. */
class Outcome extends World {
  end(bench, stopped) {
    const run = this.runs.find((r) => r.id === bench.run);
    super.end(bench, stopped);
    if (!stopped) Object.assign(run, this.outcome);
  }
}

let folder, stub, address;
const open = async (options) => ([stub, address] = [(stub = new Stub({ token: kToken, playMs: 200, world: new Outcome(), ...options })), (await stub.open()).replace(/\/$/, "")]);
beforeEach(() => (folder = mkdtempSync(join(tmpdir(), "ci-submit-"))));
afterEach(async () => {
  await stub?.close();
  assert.deepEqual(stub?.faults ?? [], [], "the stub found something against the contract");
  stub = undefined;
  rmSync(folder, { recursive: true });
});

/** Starts the script; `ended` gives { code, words }. */
function start(args, environment = {}) {
  const child = spawn(script, args, { cwd: folder, timeout: 20_000, env: { ...process.env, MIDSTICK_DAEMON: address, MIDSTICK_TOKEN: kToken, MIDSTICK_POLL_S: "0.05", ...environment } });
  let words = "";
  child.stderr.on("data", (bytes) => (words += bytes));
  return { child, ended: new Promise((done) => child.on("close", (code) => done({ code, words }))) };
}
const run = (args, environment) => start(args, environment).ended;
const junit = (name = "junit.xml") => join(folder, name);

for (const [verdict, code] of [["pass", 0], ["fail", 1], ["inconclusive", 2]])
  test(`a run that ends with ${verdict} is exit code ${code}, and junit.xml is there`, async () => {
    await open();
    stub.world.outcome = { verdict };
    const got = await run([kPlan, "4f2c1d"]);
    assert.equal(got.code, code, got.words);
    const made = stub.world.runs[0];
    assert.deepEqual([made.plan, made.build], [kPlan, "4f2c1d"]);
    assert.equal(readFileSync(junit(), "utf8"), `a file of run ${made.id}: junit.xml\n`);
  });

test("the file may have another name", async () => {
  await open();
  await run([kPlan, "4f2c1d", "bench.xml"]);
  assert.ok(existsSync(junit("bench.xml")) && !existsSync(junit()));
});

test("the daemon's socket does as well as its port", async () => {
  const socket = join(folder, "midstick.sock");
  stub = new Stub({ token: kToken, playMs: 200, world: new Outcome() });
  await stub.open(socket);
  stub.world.outcome = { verdict: "pass" };
  const got = await run([kPlan, "4f2c1d"], { MIDSTICK_DAEMON: `unix:${socket}` });
  assert.equal(got.code, 0, got.words);
});

test("a plan that is not there is told in the daemon's words", async () => {
  await open();
  const got = await run(["ploughing", "4f2c1d"]);
  assert.equal(got.code, 3);
  assert.match(got.words, /there is no plan ploughing/);
});

test("a wrong token is refused", async () => {
  await open();
  const got = await run([kPlan, "4f2c1d"], { MIDSTICK_TOKEN: "another" });
  assert.equal(got.code, 3);
  assert.match(got.words, /unknown or has run out/);
});

test("no daemon is exit code 3", async () => {
  await open();
  await stub.close();
  assert.equal((await run([kPlan, "4f2c1d"])).code, 3);
  await stub.open(); // for afterEach
});

test("wrong usage is exit code 64", async () => {
  await open();
  assert.equal((await run([kPlan])).code, 64);
  assert.equal((await run([kPlan, "x"], { MIDSTICK_DAEMON: "bench-room" })).code, 64);
});

test("who waits too long cancels the job", async () => {
  await open({ playMs: kLongRun });
  const got = await run([kPlan, "4f2c1d"], { MIDSTICK_WAIT_S: "1" });
  assert.equal(got.code, 2, got.words);
  assert.equal(stub.world.jobs[0].note, "stopped");
  assert.ok(!existsSync(junit()));
});

test("a script that the CI service ends cancels its job", async () => {
  await open({ playMs: kLongRun });
  const { child, ended } = start([kPlan, "4f2c1d"], { MIDSTICK_POLL_S: "60" });
  // Its first look at the job is over when the answer has gone out: then it waits.
  await new Promise((done) => stub.server.on("request", (request, response) => request.method === "GET" && response.on("close", done)));
  child.kill("SIGTERM");
  const got = await ended;
  assert.equal(got.code, 143, got.words);
  assert.equal(stub.world.jobs[0].note, "stopped");
});
