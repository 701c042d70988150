// Every view in light, dark and on a phone: a picture to look at, no sideways scroll, Stop in reach, readable by the accessibility rules.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { picture, settled } from "./browser.mjs";
import { closeBrowser, playing, stage } from "./stage.mjs";
import { World } from "./stub/world.mjs";

const axe = readFileSync(fileURLToPath(import.meta.resolve("axe-core/axe.min.js")), "utf8");
const kViews = { tonight: "#/tonight", bench: "#/bench/virtual%20bench", "bench-missing": "#/bench/hall%20bench", runs: "#/runs", run: "#/runs/40", "run-long-names": "#/runs/39", check: "#/runs/40/check/signal-loss",
  trend: "#/trend", calibration: "#/calibration", plans: "#/plans", "no-such-run": "#/runs/4711", "no-such-view": "#/nowhere" };
const kModes = { desktop: {}, dark: { dark: true }, phone: { phone: true }, "phone-dark": { phone: true, dark: true } };
const kMissing = /404/;

after(closeBrowser);

const sideways = (page) => page.evaluate(() => {
  const wide = [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".hidden, .plot, .lanes, thead") && getComputedStyle(e).position !== "fixed");
  return { scroll: document.documentElement.scrollWidth - innerWidth, wide: wide.slice(0, 3).map((e) => e.outerHTML.slice(0, 120)) };
});

const stopInReach = (page) => page.evaluate(() => {
  const stop = document.getElementById("stop"), box = stop.getBoundingClientRect();
  return stop.contains(document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2)) && box.height >= 44;
});

/** What breaks a rule, and text whose contrast the checker could not judge because a picture or gradient lies behind it. */
async function rules(page) {
  await page.evaluate(axe);
  const { violations, incomplete } = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"] }));
  const unjudged = incomplete.filter((i) => i.id === "color-contrast").flatMap((i) => i.nodes).filter((n) => ["pseudoContent", "bgGradient", "bgImage"].includes(n.any[0]?.data?.messageKey));
  const broken = violations.map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => `${n.target} ${n.any[0]?.message ?? ""}`).join(" | ")}`);
  return [...broken, ...unjudged.map((n) => `contrast of ${n.target} could not be judged`)];
}

for (const [mode, how] of Object.entries(kModes)) {
  test(`every view, ${mode}`, { timeout: 240_000 }, () => stage({}, async ({ stub, visit }) => {
    playing(stub);
    const page = await visit(kViews.bench, { ...how, expect: kMissing });
    for (const [name, route] of Object.entries(kViews)) {
      await page.evaluate((to) => (location.hash = to), route);
      await settled(page);
      if (name === "bench") await page.waitForFunction(() => Number(document.querySelector("[data-rate]").dataset.rate) > 0);
      if (name === "check" || name === "trend") await page.locator(".plot canvas").first().waitFor();
      await settled(page);
      assert.ok(await stopInReach(page), `${name}: Stop is in reach at the top`);
      await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
      assert.ok(await stopInReach(page), `${name}: Stop is in reach at the end`);
      await page.evaluate(() => scrollTo(0, 0));
      assert.deepEqual(await sideways(page), { scroll: 0, wide: [] }, `${name}: nothing sticks out`);
      assert.deepEqual(await rules(page), [], `${name}: accessibility`);
      await picture(page, `${name}-${mode}`);
    }
    stub.world.openLoop(stub.world.benches[0]);
    stub.changed("benches");
    await page.evaluate((to) => (location.hash = to), kViews.bench);
    await page.getByRole("button", { name: "Release this bench" }).click();
    assert.deepEqual(await sideways(page), { scroll: 0, wide: [] }, "bench-held: nothing sticks out");
    assert.deepEqual(await rules(page), [], "bench-held: accessibility");
    await picture(page, `bench-held-${mode}`);
  }));
}

test("before anything has run every view says so", { timeout: 120_000 }, () => stage({ world: new World({ empty: true }) }, async ({ stub, visit }) => {
  stub.world.benches.splice(1);
  const page = await visit("#/tonight", { phone: true });
  for (const [name, route, text] of [["tonight", "#/tonight", "Nothing ran in the last 24 hours"], ["runs", "#/runs", "Nothing has run yet"], ["trend", "#/trend", "has left a number yet"],
    ["plans", "#/plans", "No job yet"], ["bench", "#/bench", "Ready, and idle"]]) {
    await page.evaluate((to) => (location.hash = to), route);
    await page.getByText(text).first().waitFor();
    await settled(page);
    assert.equal((await sideways(page)).scroll, 0, name);
    await picture(page, `${name}-empty-phone`);
  }
}));
