// What a person does with the daemon: submit, watch live, open a failing check, zoom, replay, stop. Against the stub, or against a real
// daemon that is running already and has a virtual bench:
//   MIDSTICK_URL=http://127.0.0.1:8080/ MIDSTICK_PLAN="..." MIDSTICK_CHECKS="signal-loss" node --test flow.test.mjs
// MIDSTICK_PLAN: a plan with a check that fails (default: the first). MIDSTICK_CHECKS: play only these. MIDSTICK_TOKEN: with scope run.
import test from "node:test";
import assert from "node:assert/strict";
import { launch, picture, settled, visit } from "./browser.mjs";
import { Stub } from "./stub/server.mjs";

const kLongMs = Number(process.env.MIDSTICK_WAIT_S ?? 300) * 1000;

async function somewhere() {
  if (process.env.MIDSTICK_URL) return { url: process.env.MIDSTICK_URL, close: async () => {}, faults: [] };
  const stub = new Stub({ playMs: 4000 });
  return { url: await stub.open(), close: () => stub.close(), faults: stub.faults };
}

async function submit(page) {
  await page.click("nav >> text=Plans");
  const form = page.locator('form[aria-label="Submit a plan"]');
  if (process.env.MIDSTICK_PLAN) await form.getByLabel("Plan", { exact: true }).selectOption(process.env.MIDSTICK_PLAN);
  const benches = await page.evaluate(() => fetch("api/1/benches", { headers: sessionStorage.getItem("midstick-token") ? { Authorization: `Bearer ${sessionStorage.getItem("midstick-token")}` } : {} }).then((r) => r.json()));
  await form.getByLabel("Bench", { exact: true }).selectOption(benches.find((b) => b.virtual).name);
  await form.getByLabel("Build label").fill("browser test");
  const only = process.env.MIDSTICK_CHECKS?.split(",") ?? [];
  if (only.length) {
    await form.getByText("Only some checks").click();
    await form.getByRole("button", { name: "None" }).click();
    for (const name of only) await form.getByLabel(name, { exact: true }).check();
  }
  assert.equal(await form.locator("fieldset.caution").isVisible(), false, "a virtual bench powers nothing, so nothing is asked");
  await form.getByRole("button", { name: "Submit" }).click();
  await form.locator(".result", { hasText: /Job \d+ is submitted/ }).waitFor();
  await form.getByRole("link", { name: "Watch the bench" }).click();
}

/** The live view moves at 10 Hz or better: rounds of what it says, and of what it shows. */
async function watchLive(page) {
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]")?.dataset.rate) >= 10, null, { timeout: 60_000 });
  const shown = await page.evaluate(() => new Promise((done) => {
    let drawn = 0;
    const strip = document.querySelector(".pulse-strip canvas"), plain = CanvasRenderingContext2D.prototype.clearRect;
    CanvasRenderingContext2D.prototype.clearRect = function (...box) {
      if (this.canvas === strip) ++drawn;
      return plain.apply(this, box);
    };
    setTimeout(() => {
      CanvasRenderingContext2D.prototype.clearRect = plain;
      done(drawn);
    }, 1000);
  }));
  assert.ok(shown >= 10, `the pulse strip was drawn ${shown} times in a second`);
}

const range = (page) => page.locator(".evidence").evaluate((e) => [Number(e.dataset.from), Number(e.dataset.to)]);
const changedFrom = (page, old) => page.waitForFunction(([from, to]) => {
  const e = document.querySelector(".evidence");
  return Number(e.dataset.from) !== from || Number(e.dataset.to) !== to;
}, old);

async function zoom(page) {
  await page.locator(".plot canvas").first().waitFor();
  assert.match(await page.locator(".which").textContent(), /^Failure 1 of \d+/);
  const at = await range(page), plot = page.locator(".plot .u-over").nth(1);
  await plot.scrollIntoViewIfNeeded();
  const box = await plot.boundingBox();
  await page.mouse.move(box.x + box.width * 0.25, box.y + 60);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.75, box.y + 70, { steps: 6 });
  await page.mouse.up();
  await changedFrom(page, at);
  const dragged = await range(page);
  assert.ok(Math.abs((dragged[1] - dragged[0]) / (at[1] - at[0]) - 0.5) < 0.05, `dragging over half of ${at} gave ${dragged}`);
  await page.locator(".stack").focus();
  await page.keyboard.press("+");
  await changedFrom(page, dragged);
  const keyed = await range(page);
  assert.ok(Math.abs((keyed[1] - keyed[0]) / (dragged[1] - dragged[0]) - 0.5) < 0.05, `+ on ${dragged} gave ${keyed}`);
  await page.keyboard.press("ArrowRight");
  await changedFrom(page, keyed);
  assert.ok((await range(page))[0] > keyed[0], "the right arrow goes later");
  await page.keyboard.press("0");
  await page.waitForFunction((span) => Number(document.querySelector(".evidence").dataset.to) - Number(document.querySelector(".evidence").dataset.from) > span, at[1] - at[0]);
}

test("submit, watch live, open a failing check, zoom, replay, stop", { timeout: 2 * kLongMs }, async () => {
  const { url, close, faults } = await somewhere();
  const browser = await launch();
  try {
    const { page, leave } = await visit(browser, url, { storage: process.env.MIDSTICK_TOKEN ? { "midstick-token": process.env.MIDSTICK_TOKEN } : {} });
    await submit(page);
    // Read first: on a busy machine the run is over before it has been watched.
    const run = await page.locator("a[data-key=playing]").getAttribute("href");
    await watchLive(page);
    await picture(page, "flow-live");
    await page.getByText("Ready, and idle").waitFor({ timeout: kLongMs });
    await page.goto(new URL(run, url).href);
    await page.locator(".verdict.fail").waitFor({ timeout: kLongMs });
    await page.locator("tr:has(.badge.fail) th a").first().click();
    await page.locator(".verdict.fail").waitFor();
    await zoom(page);
    await settled(page);
    await picture(page, "flow-failing-check");
    const replay = page.getByRole("button", { name: "Replay this check" });
    await (await replay.count() ? replay : page.getByRole("button", { name: "Play this run again" })).click();
    await page.locator(".result", { hasText: /Job \d+ is submitted/ }).waitFor();
    await page.getByRole("link", { name: "Watch the bench" }).click();
    await page.locator("a[data-key=playing]").waitFor({ timeout: 60_000 });
    const second = await page.locator("a[data-key=playing]").getAttribute("href");
    await page.getByRole("button", { name: "Stop all" }).click();
    await page.locator("#stopped").getByText("Stop sent").waitFor();
    await page.getByText("Ready, and idle").waitFor({ timeout: 60_000 });
    await page.goto(new URL(second, url).href);
    await page.locator(".verdict .badge").filter({ hasText: /short|Interrupted/ }).waitFor({ timeout: 60_000 });
    await leave();
    assert.deepEqual(faults.map(String), []);
  } finally {
    await browser.close();
    await close();
  }
});
