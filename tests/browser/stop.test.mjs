// Stop: always there, asks nothing, has a key of its own, and never pretends.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { forbidStoring, picture, screenshots, settled } from "./browser.mjs";
import { closeBrowser, playing, stage } from "./stage.mjs";

after(closeBrowser);
const stops = (stub) => stub.requests.filter((r) => r === "POST /api/1/stop").length;
const kAway = /ERR_CONNECTION|WebSocket|502|503|401|403/;

test("the key stops every bench from every view, and from within a field", { timeout: 120_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/tonight");
  let expected = 0;
  for (const route of ["#/tonight", "#/bench", "#/runs", "#/runs/40", "#/runs/40/check/signal-loss", "#/trend", "#/calibration", "#/plans"]) {
    await page.evaluate((to) => (location.hash = to), route);
    await settled(page);
    const answered = page.waitForResponse((r) => r.url().endsWith("/api/1/stop"));
    await page.keyboard.press("F9");
    await answered;
    assert.equal(stops(stub), ++expected, route);
    await page.waitForFunction(() => !document.getElementById("stop").classList.contains("pressed"));
  }
  for (const field of ["build", "seed", "plan", "labels"]) {
    await page.locator(`#field-${field}`).focus();
    const answered = page.waitForResponse((r) => r.url().endsWith("/api/1/stop"));
    await page.keyboard.press("F9");
    await answered;
    assert.equal(stops(stub), ++expected, field);
    await page.waitForFunction(() => !document.getElementById("stop").classList.contains("pressed"));
  }
}));

test("the button stops what plays and cancels what is queued, without asking", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/bench");
  page.on("dialog", () => assert.fail("a dialog came up"));
  await page.locator("a[data-key=playing]").waitFor();
  await page.getByRole("button", { name: "Stop all" }).click();
  await page.locator("#stopped").getByText("Stop sent: virtual bench. 1 queued job cancelled.").waitFor();
  assert.equal(await page.locator("#urgent").textContent(), "Stop sent: virtual bench. 1 queued job cancelled.");
  await page.getByText("Ready, and idle").waitFor();
  assert.deepEqual(stub.world.benches.map((b) => b.state), ["ready", "ready", "missing"]);
  await picture(page, "stopped");
}));

test("one bench can be stopped alone", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  for (const bench of ["virtual bench", "green bench"]) stub.world.submit({ plan: "soak", bench });
  stub.dispatch();
  const page = await visit("#/bench/green%20bench");
  await page.getByRole("button", { name: "Stop this bench" }).click();
  await page.locator(".told", { hasText: "Stop sent to green bench." }).waitFor();
  assert.deepEqual(stub.world.benches.map((b) => b.state), ["running", "ready", "missing"]);
}));

test("where one bench cannot be stopped it is said what to do by hand", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/bench/virtual%20bench", { expect: kAway });
  await page.locator("a[data-key=playing]").waitFor();
  stub.failing = 502;
  await page.getByRole("button", { name: "Stop this bench" }).click();
  await page.locator(".told", { hasText: /^virtual bench is not stopped: .*Open the stop loop, or switch off the supply, by hand now\. Stop all is tried again/ }).waitFor();
}));

const kTriedOnceMs = 10_000; ///< it was given up silently after so long once
const kGiveUp = /^Give this Stop up/;

/** A page on a daemon that has gone since: { port, page }. */
async function gone(stub, visit, route = "#/bench", how = {}) {
  const page = await visit(route, { expect: kAway, ...how });
  await settled(page);
  const port = stub.port;
  await stub.close();
  return { page, port };
}

test("a stop that does not reach the daemon says so loudly, is kept however long it takes, and stops what the daemon took up again", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const { page, port } = await gone(stub, visit);
  await page.clock.install();
  await page.keyboard.press("F9");
  const box = page.locator(".alarm.bad#stopped", { hasText: "Stop has not reached the daemon" });
  await box.waitFor();
  assert.match(await page.locator("#urgent").textContent(), /Nothing has been stopped yet\. Open the stop loop, or switch off the supply, by hand now/);
  await picture(page, "stop-not-reached");
  await page.clock.runFor(3 * kTriedOnceMs);
  assert.ok(await box.isVisible(), "the box stays");
  await page.clock.resume();
  playing(stub);
  await stub.open(port);
  await page.locator("#stopped.done", { hasText: /Stop reached the daemon at \d\d:\d\d:\d\d, [3-9]\d s after you pressed: virtual bench\. 1 queued job cancelled\./ }).waitFor();
  assert.deepEqual(stub.world.benches.map((b) => b.state), ["ready", "ready", "missing"]);
  assert.equal(stops(stub), 1, "delivered once");
  await picture(page, "stop-late");
}));

test("a stop that waits is sent after the page was loaded anew, too", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const { page, port } = await gone(stub, visit);
  await page.keyboard.press("F9");
  await page.locator(".alarm.bad#stopped").waitFor();
  await page.goto("about:blank"); // there is no daemon to load it from
  playing(stub);
  await stub.open(port);
  await page.goto(stub.address);
  await page.locator("#stopped.done", { hasText: /after you pressed: virtual bench/ }).waitFor();
  await page.reload();
  await settled(page);
  assert.equal(stops(stub), 1, "and not once more");
}));

test("a stop that waits stays in sight, however far one scrolls, and leaves the button in reach", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  for (const how of [{}, { phone: true }]) {
    const { page, port } = await gone(stub, visit, "#/runs", how);
    await page.keyboard.press("F9");
    await page.getByRole("button", { name: kGiveUp }).waitFor();
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    const [box, stop, height] = [await page.locator("#stopped").boundingBox(), await page.locator("#stop").boundingBox(), page.viewportSize().height];
    assert.ok(await page.evaluate(() => scrollY) > height, "scrolled far");
    assert.ok(box.y >= 0 && box.y + box.height <= height, `in sight: ${JSON.stringify(box)}`);
    assert.ok(box.y + box.height <= stop.y || box.y >= stop.y + stop.height, "beside Stop");
    await page.screenshot({ path: `${screenshots}/stop-not-reached-scrolled${how.phone ? "-phone" : ""}.png` });
    await stub.open(port);
    await page.locator("#stopped.done").waitFor();
  }
}));

test("a stop is sent by a browser that keeps nothing, too", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const full = () => (Storage.prototype.setItem = Storage.prototype.removeItem = () => { throw new DOMException("no room", "QuotaExceededError"); });
  for (const before of [full, forbidStoring]) {
    const page = await visit("#/runs", { before }), had = stops(stub);
    await page.getByText("Run 40").waitFor();
    await page.keyboard.press("F9");
    await page.locator("#stopped.done").waitFor();
    assert.equal(stops(stub), had + 1);
  }
}));

test("a stop that waits is given up by a button that says so, and is not sent then", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const { page, port } = await gone(stub, visit);
  await page.keyboard.press("F9");
  await page.getByRole("button", { name: kGiveUp }).click();
  await page.locator("#stopped", { hasText: /is given up and will not be sent\. This page has stopped nothing\. Open the stop loop/ }).waitFor();
  await stub.open(port);
  await page.waitForFunction(() => !document.querySelector("[data-alarm=lost]"));
  await settled(page);
  assert.equal(stops(stub), 0);
  await page.keyboard.press("F9");
  await page.locator("#stopped", { hasText: "Stop sent: no bench was running." }).waitFor();
}));

test("a stop of the benches while the store is away is done, with a note on what is queued", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  Object.assign(stub.world.store, { state: "away", detail: "the disk is full", since: new Date().toISOString() });
  playing(stub);
  const page = await visit("#/bench", { expect: kAway });
  await settled(page);
  await page.keyboard.press("F9");
  await page.locator("#stopped.done", { hasText: "Stop sent. Every bench was told to stop. What waits is cancelled as soon as the database is back, and nothing begins before that: the disk is full" }).waitFor();
  assert.equal(stub.world.benches[0].state, "ready");
  await picture(page, "stop-store-away");
}));

test("a stop that something before the daemon answered for it is tried again", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/bench", { expect: kAway });
  await settled(page);
  stub.failing = 502;
  await page.keyboard.press("F9");
  await page.getByRole("button", { name: kGiveUp }).waitFor();
  stub.failing = 0;
  await page.locator("#stopped.done", { hasText: "after you pressed: no bench was running." }).waitFor();
}));

test("a stop that is refused says so and what to do by hand", { timeout: 60_000 }, () => stage({ token: "right" }, async ({ visit }) => {
  const page = await visit("#/bench", { expect: kAway, storage: { "midstick-token": "wrong" } });
  await page.keyboard.press("F9");
  await page.getByText(/Stop was refused: .* Open the stop loop/).first().waitFor();
}));
