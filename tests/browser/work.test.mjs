// The daily work: filter, page, trend, cancel, submit with cautions, keyboard, themes, a prefix, what screen readers hear.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { picture, screenshots, settled, stopTime } from "./browser.mjs";
import { closeBrowser, playing, stage } from "./stage.mjs";

after(closeBrowser);
const rows = (page) => page.locator("tbody tr").count();

test("runs are filtered and paged, and the address carries both", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/runs");
  await page.getByText("Run 40").waitFor();
  assert.equal(await rows(page), 25);
  await page.getByRole("link", { name: "Older" }).click();
  await page.getByText("Run 15", { exact: true }).waitFor();
  assert.equal(await rows(page), 15);
  await page.getByRole("link", { name: "Newest" }).click();
  await page.getByText("Run 40").waitFor();
  await page.getByLabel("Verdict").selectOption("fail");
  await page.waitForFunction(() => document.querySelectorAll("tbody tr").length === 2);
  assert.match(page.url(), /#\/runs\?verdict=fail$/);
  await page.getByLabel("Bench").selectOption("green bench");
  await page.getByText("No run fits this filter.").waitFor();
  await page.goBack();
  await page.waitForFunction(() => document.querySelectorAll("tbody tr").length === 2);
}));

test("a metric of two benches is two series, and one is chosen", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  stub.world.runs.forEach((run, i) => (run.bench = i % 4 === 0 ? "green bench" : "virtual bench"));
  const page = await visit("#/trend"), bench = page.locator("select[name=bench]"), first = page.locator("tbody tr").first();
  await bench.waitFor();
  assert.equal(await bench.inputValue(), "green bench", "that of the newest run");
  assert.match(await first.textContent(), /^Run 40/);
  const all = await rows(page);
  await bench.selectOption("virtual bench");
  await page.locator("tbody tr", { hasText: /^Run 38/ }).waitFor();
  assert.match(page.url(), /bench=virtual\+bench/);
  assert.equal(await bench.inputValue(), "virtual bench");
  assert.ok((await rows(page)) > all, "three of four nights were there");
  await page.getByLabel("Metric").selectOption({ index: 1 });
  await page.waitForFunction(() => /metric=/.test(location.hash) && /bench=virtual/.test(location.hash));
}));

test("a metric is chosen, drawn with its tolerance, and its drift named", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/tonight");
  await page.getByRole("link", { name: "neutral: left" }).click();
  await page.getByText("Drifts by +8.40 µs").waitFor();
  await page.locator(".plot canvas").waitFor();
  assert.match(await page.locator("dl.facts").textContent(), /1498\.10 to 1501\.90 µs/);
  await page.getByLabel("Metric").selectOption("latency: longest");
  await page.getByText("Steady").waitFor();
  await page.getByLabel("Plan").selectOption("soak");
  await page.getByText("has left a number yet").waitFor();
}));

test("a queued job is cancelled and a running one stopped from the list", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/plans");
  await page.getByText("waits: every fitting bench runs another job").waitFor();
  await page.getByRole("button", { name: "Cancel job 42" }).click();
  await page.locator(".told", { hasText: "Job 42 is cancelled." }).waitFor();
  await page.getByRole("button", { name: "Cancel job 41" }).click();
  await page.locator(".told", { hasText: "Job 41 is being stopped." }).waitFor();
  await page.waitForFunction(() => document.querySelectorAll("td button").length === 0);
  await page.getByLabel("Show").selectOption("cancelled");
  await page.waitForFunction(() => document.querySelectorAll('section[aria-labelledby="jobs"] tbody tr').length === 1);
}));

test("before a real bench the cautions are shown and must be answered", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const hpp = readFileSync(new URL("../../daemon/report/caution.hpp", import.meta.url), "utf8");
  const words = [...hpp.matchAll(/^ {4}"(.*)"/gm)].map((m) => m[1]);
  assert.equal(words.length, 7);
  const page = await visit("#/plans");
  const form = page.locator('form[aria-label="Submit a plan"]');
  await form.getByLabel("Bench", { exact: true }).selectOption("green bench");
  assert.deepEqual(await form.locator(".caution li").allTextContents(), words);
  await form.getByRole("button", { name: "Submit" }).click();
  await form.getByText("Tick this first").waitFor();
  assert.equal(stub.requests.filter((r) => r.startsWith("POST")).length, 0, "nothing was sent");
  await picture(page, "caution");
  await form.getByLabel(/Motors disconnected/).check();
  await form.getByRole("button", { name: "Submit" }).click();
  await form.getByText("Job 41 is submitted.").waitFor();
  assert.equal(stub.world.benches[1].state, "running");
  assert.equal(await form.getByLabel(/Motors disconnected/).isChecked(), false, "asked anew for the next");
  for (const [bench, asked] of [["virtual bench", false], ["", true]]) {
    await form.getByLabel("Bench", { exact: true }).selectOption(bench);
    assert.equal(await form.locator(".caution").isVisible(), asked, `asked for "${bench}"`);
  }
  await form.getByLabel("With these labels").fill("virtual");
  assert.equal(await form.locator(".caution").isVisible(), false, "only virtual benches have this label");
}));

test("a replay on a real bench asks first too", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/runs/39");
  await page.getByRole("button", { name: "Play this run again" }).click();
  await page.locator(".caution").waitFor();
  await page.getByRole("button", { name: "Play this run again now" }).click();
  await page.getByText("Tick this first").waitFor();
  assert.equal(stub.requests.filter((r) => r.startsWith("POST")).length, 0);
  await page.getByLabel(/Motors disconnected/).check();
  const sent = page.waitForResponse((r) => r.url().endsWith("/replay"));
  await page.getByRole("button", { name: "Play this run again now" }).click();
  await sent;
  // News of runs comes, and none of this one: the answer stays.
  const asked = page.waitForResponse((r) => r.url().endsWith("/runs/39/report"));
  stub.changed("runs");
  await asked;
  await settled(page);
  assert.match(await page.locator(".result").textContent(), /^Job 41 is submitted\./);
}));

test("what is asked of a job is what is sent, and nonsense is told beside the field", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/plans");
  const form = page.locator('form[aria-label="Submit a plan"]');
  await form.getByLabel("Bench", { exact: true }).selectOption("virtual bench");
  await form.getByLabel("Seed").fill("-1");
  await form.getByRole("button", { name: "Submit" }).click();
  await form.getByText("seed is a whole number from 0 to 4294967295").waitFor();
  await form.getByLabel("Seed").fill("20");
  await form.getByLabel("Priority").fill("7");
  await form.getByLabel("Build label").fill("rev C");
  await form.getByText("Only some checks").click();
  await form.getByRole("button", { name: "None" }).click();
  await form.getByRole("button", { name: "Submit" }).click();
  await form.getByText("Tick at least one check").waitFor();
  await form.getByLabel("signal-loss", { exact: true }).check();
  const sent = page.waitForRequest((r) => r.method() === "POST");
  await form.getByRole("button", { name: "Submit" }).click();
  assert.deepEqual((await sent).postDataJSON(), { plan: "bank mower, nightly", build: "rev C", bench: "virtual bench", seed: 20, priority: 7, checks: ["signal-loss"] });
  await form.getByText("is submitted").waitFor();
  await form.getByLabel("Plan", { exact: true }).selectOption("slope trial");
  assert.ok(await form.getByRole("button", { name: "Submit" }).isDisabled());
  assert.equal(stub.world.jobs[0].plan, "bank mower, nightly");
}));

test("everything is done from the keyboard", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/runs");
  await page.getByText("Run 40").waitFor();
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  assert.ok(await page.locator(".skip").evaluate((e) => e.getBoundingClientRect().top >= 0), "the skip link is seen once it has the focus");
  await page.keyboard.press("Enter");
  assert.equal(await page.evaluate(() => document.activeElement.id), "main");
  assert.match(page.url(), /#\/runs$/, "and the view stays");
  await page.locator("tbody th a").first().focus();
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("ArrowDown");
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Run 38");
  const ring = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  assert.equal(ring, "solid", "the focus is visible");
  await page.keyboard.press("Home");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.activeElement.textContent === "Run 40" && document.activeElement.tagName === "H1");
}));

test("news redraw a table without taking the focus from it", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  const page = await visit("#/runs");
  await page.getByText("Run 40").waitFor();
  await page.locator("tbody th a").nth(2).focus();
  playing(stub);
  await page.getByText("Run 41").waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Run 38");
}));

test("a screen reader hears which check is played, now and then, and not every number", { timeout: 60_000 }, () => stage({ playMs: 38_000 }, async ({ stub, visit }) => {
  const page = await visit("#/bench", { clock: true });
  await settled(page);
  await stopTime(page);
  await page.evaluate(() => {
    window.heard = [];
    new MutationObserver(() => window.heard.push(document.getElementById("polite").textContent)).observe(document.getElementById("polite"), { childList: true, characterData: true, subtree: true });
  });
  const heardAt = async (check, seconds) => {
    await page.waitForFunction((of) => Number(document.querySelector(".playing .note")?.textContent.split(" ")[0]) >= of, check);
    await page.clock.runFor(seconds * 1000);
    return page.evaluate(() => window.heard);
  };
  playing(stub);
  const first = await heardAt(5, 3);
  assert.equal(first.length, 1, `one of five checks within three seconds, not ${JSON.stringify(first)}`);
  assert.match(first[0], /^Playing .+, \d+ of 38\.$/);
  assert.equal((await heardAt(7, 3)).length, 1, "nor in the next three");
  await heardAt(7, 6);
  const later = await heardAt(9, 3);
  assert.equal(later.length, 2, `another one after ten seconds, not ${JSON.stringify(later)}`);
  assert.match(later[1], /^Playing .+, \d+ of 38\.$/);
  const live = await page.locator(".live").evaluate((e) => e.querySelectorAll("[aria-live], [role=status], [role=alert]").length);
  assert.equal(live, 0, "what moves is not announced");
}));

test("the theme follows the system until one is chosen, and the choice is kept", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/runs/40/check/signal-loss", { dark: true });
  const ground = () => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  assert.equal(await ground(), "rgb(21, 25, 27)");
  await page.getByLabel("Light").check({ force: true });
  assert.equal(await ground(), "rgb(246, 244, 238)");
  await page.reload();
  assert.equal(await ground(), "rgb(246, 244, 238)");
  await page.getByLabel("Auto").check({ force: true });
  assert.equal(await ground(), "rgb(21, 25, 27)");
}));

test("the page works behind a prefix", { timeout: 60_000 }, () => stage({ prefix: "/workshop/bench-1/" }, async ({ stub, visit }) => {
  playing(stub);
  const page = await visit("#/bench");
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]")?.dataset.rate) > 0);
  assert.deepEqual(stub.requests.filter((r) => !r.split(" ")[1].startsWith("/workshop/bench-1/")), []);
}));

test("where less motion is wanted nothing moves by itself but what is measured", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/bench", { reducedMotion: true });
  await settled(page);
  assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll("*")].filter((e) => parseFloat(getComputedStyle(e).transitionDuration) > 0 || getComputedStyle(e).animationName !== "none").map((e) => e.outerHTML.slice(0, 80))), []);
}));

test("two benches are watched one at a time", { timeout: 60_000 }, () => stage({}, async ({ stub, visit }) => {
  for (const bench of ["virtual bench", "green bench"]) stub.world.submit({ plan: "soak", bench });
  stub.dispatch();
  const page = await visit("#/bench/green%20bench");
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]")?.dataset.rate) > 0);
  stub.world.end(stub.world.benches[1], true);
  stub.changed("benches");
  // The other one plays on, and its messages are not counted.
  await page.waitForFunction(() => Number(document.querySelector("[data-rate]").dataset.rate) === 0);
  assert.equal(stub.world.benches[0].state, "running");
  await page.getByRole("link", { name: /virtual bench/ }).click();
  await page.getByRole("heading", { name: "virtual bench" }).waitFor();
}));

test("on a phone the menu opens above Stop, and closes on a choice or Escape", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/tonight", { phone: true });
  await settled(page);
  const rail = page.locator("#rail");
  assert.equal(await rail.isVisible(), false);
  await page.getByRole("button", { name: "Menu" }).click();
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Tonight");
  const [menu, stop] = [await rail.boundingBox(), await page.locator("#stop").boundingBox()];
  assert.ok(menu.y >= 0 && menu.y + menu.height <= stop.y, "the menu covers neither Stop nor the screen's edge");
  await page.screenshot({ path: `${screenshots}/menu-phone.png` });
  await page.keyboard.press("Escape");
  assert.equal(await rail.isVisible(), false);
  await page.getByRole("button", { name: "Menu" }).click();
  await rail.getByRole("link", { name: "Calibration" }).click();
  await page.getByRole("heading", { name: "Calibration" }).waitFor();
  assert.equal(await rail.isVisible(), false);
}));

test("what broke says since when, or that no earlier run on this bench tells", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/tonight");
  const of = (check) => page.locator(".list li", { has: page.getByRole("link", { name: check, exact: true }) }).locator(".tag");
  await of("signal-loss").waitFor();
  assert.equal(await of("signal-loss").textContent(), "new since run 38, which passed");
  assert.equal(await of("random-sticks").textContent(), "failed before too");
  assert.equal(await of("plausibility").textContent(), "no earlier run on this bench");
  assert.doesNotMatch(await page.locator("main").textContent(), /\d us\b|[\s(]-\d/, "micro and minus as people write them");
  await of("signal-loss").getByRole("link").click();
  await page.getByRole("heading", { name: "Run 38" }).waitFor();
}));

test("the command that calibrates a bench is one that the program takes", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await visit("#/calibration");
  await page.locator(".cards .card").first().waitFor();
  const card = (name) => page.locator(`.card[aria-label="${name}"]`);
  assert.deepEqual(await page.locator(".cards pre").allTextContents(), ["midstick calibrate --bench serial:/dev/ttyACM0", "midstick calibrate --bench serial:/dev/midstick/2341:0042:95530343834351E0F1A2"]);
  assert.match(await card("hall bench").textContent(), /Where there is no \/dev\/midstick, ls -l \/dev\/serial\/by-id shows the port, to be given as serial:PORT\./);
  assert.match(await card("virtual bench").textContent(), /no errors of its own to calibrate/);
}));
