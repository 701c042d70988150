// Stop: always there, asks nothing, has a key of its own, and never pretends.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { picture, settled } from "./browser.mjs";
import { closeBrowser, playing, stage } from "./stage.mjs";

after(closeBrowser);
const stops = (stub) => stub.requests.filter((r) => r === "POST /api/1/stop").length;
const kAway = /ERR_CONNECTION|WebSocket|503|401|403/;

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

test("a stop that does not reach the daemon says so loudly and tries again", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/bench", { expect: kAway });
  await settled(page);
  const port = stub.port;
  await stub.close();
  await page.keyboard.press("F9");
  await page.locator(".alarm.bad", { hasText: "Stop has not reached the daemon" }).waitFor();
  assert.match(await page.locator("#urgent").textContent(), /Open the stop loop, or switch off the supply, by hand now/);
  await picture(page, "stop-not-reached");
  await stub.open(port);
  await page.locator("#stopped").getByText("Stop sent: no bench was running.").waitFor();
}));

test("a stop that is refused says so and what to do by hand", { timeout: 60_000 }, () => stage({ token: "right" }, async ({ visit }) => {
  const page = await visit("#/bench", { expect: kAway, storage: { "midstick-token": "wrong" } });
  await page.keyboard.press("F9");
  await page.getByText(/Stop was refused: .* Open the stop loop/).first().waitFor();
}));
