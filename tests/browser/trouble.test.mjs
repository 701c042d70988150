// What is wrong must be seen at once, and be seen to be over: connection, store, disk, token, silence.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { forbidStoring, picture, settled, stopTime } from "./browser.mjs";
import { closeBrowser, playing, stage } from "./stage.mjs";

after(closeBrowser);
const kAway = /ERR_CONNECTION|WebSocket|503|401/;

test("a lost connection is shown at once, tried again ever more slowly, and comes back", { timeout: 90_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/runs", { expect: kAway, clock: true });
  await page.getByText("Run 40").waitFor();
  await page.waitForFunction(() => document.querySelector(".lamp").textContent === "Daemon ready");
  const port = stub.port;
  await stopTime(page);
  await stub.close();
  await page.locator("[data-alarm=lost]").waitFor();
  await page.clock.resume();
  assert.equal(await page.locator(".lamp").textContent(), "No connection");
  assert.ok(await page.getByText("Run 40").isVisible(), "what was there stays readable");
  await page.getByText(/Next attempt in [4-9] s/).waitFor();
  await picture(page, "connection-lost");
  stub.world.runs[0].build = "changed meanwhile";
  await stub.open(port);
  await page.getByRole("button", { name: "Try now" }).click();
  await page.waitForFunction(() => !document.querySelector("[data-alarm=lost]"));
  await page.getByText("changed meanwhile").waitFor();
}));

test("live messages that stop coming are called old, not shown as if they were new", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/bench", { expect: kAway });
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]").dataset.rate) > 0);
  stub.liveStalled = true;
  await page.getByText(/No live message for \d+ s: what is drawn is old/).waitFor();
  await picture(page, "live-stalled");
  stub.liveStalled = false;
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]").dataset.rate) > 0);
}));

test("a line on which no pulse comes is said to have none", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/bench");
  await page.locator("[data-readout=left] .value", { hasText: "%" }).waitFor();
  stub.silent = true;
  for (const line of ["throttle", "steering", "left", "right"]) await page.locator(`[data-readout=${line}] .value`, { hasText: "no pulse" }).waitFor();
  assert.deepEqual(await page.locator(".pulse-strip .value").allTextContents(), Array(4).fill("no pulse"));
  await picture(page, "no-pulse");
}));

test("a store that is away is named, with what is still safe, and its return too", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/tonight", { expect: kAway });
  await settled(page);
  Object.assign(stub.world.store, { state: "away", detail: "no space left on /var/lib/midstick", since: new Date(Date.now() - 5 * 60_000).toISOString(), unsaved_runs: 2, free_bytes: 0 });
  stub.changed("health");
  const alarm = page.locator("[data-alarm=store]");
  await alarm.waitFor();
  assert.match(await alarm.textContent(), /no space left on \/var\/lib\/midstick.*Stop and the live view work.*2 runs not in the database yet.*new jobs are refused/s);
  assert.equal(await page.locator(".lamp").textContent(), "Degraded");
  await page.evaluate(() => (location.hash = "#/runs"));
  await page.getByText("This cannot be shown: the store of runs is away").waitFor();
  await picture(page, "store-away");
  Object.assign(stub.world.store, { state: "ready", detail: "", since: null, unsaved_runs: 0, free_bytes: 1e9 });
  stub.changed("health");
  stub.changed("runs");
  const disk = page.locator("[data-alarm=disk]", { hasText: "Only 1.0 GB left" });
  await disk.waitFor();
  assert.match(await disk.textContent(), /Nothing is dropped for that.*Below 200 MB no run begins/, "as the daemon does");
  await page.getByText("Run 40").waitFor();
  assert.equal(await alarm.count(), 0);
}));

test("a daemon that asks for a token gets it from a form, for this tab only", { timeout: 60_000 }, () => stage({ token: "open-sesame" }, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/runs", { expect: kAway });
  await page.locator("[data-alarm=token]").waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), "token");
  await picture(page, "token");
  await page.keyboard.type("wrong");
  await page.keyboard.press("Enter");
  await page.getByText("does not take this token").waitFor();
  await page.getByLabel("Token").fill("open-sesame");
  await page.getByRole("button", { name: "Use it" }).click();
  await page.getByText("Run 40").waitFor();
  assert.equal(await page.evaluate(() => localStorage.getItem("midstick-token")), null);
  await page.evaluate(() => (location.hash = "#/bench"));
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]")?.dataset.rate) > 0);
  await page.evaluate(() => (location.hash = "#/runs/40"));
  const file = page.waitForEvent("download");
  await page.getByRole("link", { name: "junit.xml" }).click();
  assert.equal((await file).suggestedFilename(), "run-40-junit.xml");
  assert.deepEqual((await page.context().cookies()).map((c) => [c.httpOnly, c.value.includes("open-sesame")]), [[true, false]]);
  await page.getByRole("button", { name: "Forget the token" }).click();
  await page.locator("[data-alarm=token]").waitFor();
}));

test("a token that the browser does not let the page keep is told so", { timeout: 60_000 }, () => stage({ token: "open-sesame" }, async ({ visit }) => {
  const page = await visit("#/runs", { expect: kAway, before: forbidStoring });
  await page.getByLabel("Token").fill("open-sesame");
  await page.getByRole("button", { name: "Use it" }).click();
  await page.locator("[data-alarm=token] .wrong", { hasText: "does not let the page keep the token. Allow this address to store data" }).waitFor();
  await picture(page, "token-not-kept");
}));

test("a bench whose stop loop opened is held, on every view, until somebody has been asked and releases it", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/tonight");
  await settled(page);
  stub.world.openLoop(stub.world.benches[0]);
  stub.dispatch();
  const alarm = page.locator("[data-alarm=held]", { hasText: /virtual bench is held: run 41: .*the stop loop is open.*Nothing begins there until/ });
  await alarm.waitFor();
  assert.match(await page.locator("#urgent").textContent(), /Held: virtual bench/);
  assert.equal(await page.locator("#state").textContent(), "Daemon ready0 running1 ready1 held1 missing1 queued");
  await picture(page, "held-tonight");
  await alarm.getByRole("link", { name: "releases it" }).click();
  await page.locator(".lead", { hasText: /^Held: run 41: the bench board went safe.*reason 2/ }).waitFor();
  assert.ok(await page.locator(".bench-state.held").isVisible());
  await page.getByRole("button", { name: "Release this bench" }).click();
  const caution = page.locator("fieldset.caution");
  assert.match(await caution.textContent(), /Jobs that wait begin at once.*why the stop loop opened.*nobody is near the machine.*off the ground or its motors disconnected/);
  await page.getByRole("button", { name: "Release this bench now" }).click();
  await caution.getByText("Tick this first").waitFor();
  assert.equal(stub.requests.filter((r) => r.startsWith("POST")).length, 0, "nothing was sent");
  await picture(page, "held-asked");
  await caution.getByRole("checkbox").check();
  await page.getByRole("button", { name: "Release this bench now" }).click();
  await page.locator(".result", { hasText: "virtual bench is released: what waits for it begins." }).waitFor();
  await page.locator("a[data-key=playing]", { hasText: "run 42" }).waitFor();
  assert.equal(await alarm.count(), 0);
  assert.equal(await page.getByRole("button", { name: "Release this bench" }).isVisible(), false);
}));

test("a release that comes second is refused in the daemon's words, and asked anew", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  stub.world.openLoop(stub.world.benches[0]);
  const page = await visit("#/bench/virtual%20bench", { expect: /409/ });
  await page.getByRole("button", { name: "Release this bench" }).click();
  await page.locator("fieldset.caution").getByRole("checkbox").check();
  stub.world.benches[0].state = "ready"; // somebody else was faster, and the page has not heard it yet
  await page.getByRole("button", { name: "Release this bench now" }).click();
  await page.locator(".refusal", { hasText: "Not released: bench virtual bench is not held" }).waitFor();
}));

test("between two jobs the bench says that the next begins, not a run that is none", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  stub.liveStalled = true;
  Object.assign(stub.world.benches[0], { state: "running", job: 7, run: null, total_ms: 1e9 });
  const page = await visit("#/bench/virtual%20bench");
  await page.getByText("Beginning job 7").waitFor();
  assert.equal(await page.locator("main a[href*=null]").count(), 0);
}));

test("the header does not call a bench that plays ready: the daemon is", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  stub.world.benches.splice(2);
  playing(stub);
  const page = await visit("#/tonight");
  await page.waitForFunction(() => document.querySelector("#state").textContent === "Daemon ready1 running1 ready1 queued");
}));

test("what could not be asked while the daemon was away is asked when it is back, on views without news of their own too", { timeout: 120_000 }, () => stage({}, async ({ stub, visit }) => {
  for (const [route, there] of [["#/runs", 'form[aria-label="Filter"]'], ["#/trend", ".plot canvas"], ["#/runs/40/check/signal-loss", ".plot canvas"], ["#/plans", 'form[aria-label="Submit a plan"]']]) {
    const page = await visit("#/nowhere", { expect: kAway });
    await settled(page);
    const port = stub.port;
    await stub.close();
    await page.locator("[data-alarm=lost]").waitFor();
    await page.evaluate((to) => (location.hash = to), route);
    await page.locator(".refusal").first().waitFor();
    assert.equal(await page.locator(there).count(), 0, route);
    await stub.open(port);
    await page.locator(there).first().waitFor();
    await page.waitForFunction(() => !document.querySelector(".refusal"));
  }
}));

test("evidence that could not be read is read when the daemon is back", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/runs/40/check/signal-loss", { expect: kAway });
  await page.locator(".plot canvas").first().waitFor();
  await settled(page);
  const port = stub.port;
  await stub.close();
  await page.getByRole("button", { name: "Whole check" }).click();
  await page.getByText("This cannot be shown: the daemon cannot be reached").waitFor();
  await stub.open(port);
  await page.waitForFunction(() => Number(document.querySelector(".evidence").dataset.to) - Number(document.querySelector(".evidence").dataset.from) > 5000);
  assert.equal(await page.locator(".refusal").count(), 0);
}));

test("a stray pulse is drawn at the scale's end and called outside, not as a command that nobody gave", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  stub.spikeUs = 40;
  playing(stub);
  const page = await visit("#/bench/virtual%20bench");
  await page.locator("[data-readout=throttle] .us", { hasText: "40.0 µs, outside" }).waitFor();
  assert.equal(await page.locator("[data-readout=throttle] .value").textContent(), "\u2212120 %");
  await picture(page, "stray-pulse");
}));
