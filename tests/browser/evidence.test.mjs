// The evidence's plots say what the verdict says, at every zoom.
import test, { after } from "node:test";
import assert from "node:assert/strict";
import { picture, settled } from "./browser.mjs";
import { closeBrowser, stage } from "./stage.mjs";

after(closeBrowser);

async function evidenceOf(visit, check) {
  const page = await visit(`#/runs/40/check/${check}`);
  await page.locator(".plot canvas").first().waitFor();
  await settled(page);
  return page;
}

/** Of the columns of an output's plot, the share in which its line is drawn. */
const drawn = (page) => page.evaluate(() => {
  const canvas = document.querySelectorAll(".plot canvas")[1], { width, height } = canvas;
  const tone = getComputedStyle(document.documentElement).getPropertyValue("--left").trim();
  const [r, g, b] = [1, 3, 5].map((i) => parseInt(tone.slice(i, i + 2), 16));
  const from = Math.round(64 * devicePixelRatio) + 1, to = width - Math.round(14 * devicePixelRatio) - 1;
  const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
  let columns = 0;
  for (let x = from; x < to; ++x)
    for (let y = 0; y < height; ++y) {
      const at = 4 * (y * width + x);
      if (Math.abs(data[at] - r) + Math.abs(data[at + 1] - g) + Math.abs(data[at + 2] - b) > 60) continue;
      ++columns;
      break;
    }
  return columns / (to - from);
});

test("the whole run is one line, though its points are thinned", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await evidenceOf(visit, "static-mix");
  await page.getByRole("button", { name: "Whole run" }).click();
  await page.getByText("the narrowest and widest of each stretch are drawn").waitFor();
  await settled(page);
  const share = await drawn(page);
  assert.ok(share > 0.95, `the left output is drawn in ${share} of the columns`);
  await picture(page, "whole-run");
}));

test("a check that passed has no pulse marked as outside, and its band holds its tolerance", { timeout: 60_000 }, () => stage({ biasUs: 18 }, async ({ visit }) => {
  const page = await evidenceOf(visit, "static-mix");
  assert.ok(await page.locator(".verdict.pass").isVisible());
  await page.getByText("allowed by the mixer spec and the check's \u00b110 µs").first().waitFor();
  assert.equal(await page.locator(".swatch.dot").count(), 0);
  await picture(page, "tolerance");
}));

test("a check without a tolerance of widths shows what is nominal, and marks nothing", { timeout: 60_000 }, () => stage({ biasUs: 18 }, async ({ visit }) => {
  const page = await evidenceOf(visit, "plausibility");
  assert.ok(await page.locator(".verdict.fail").isVisible());
  await page.getByText("nominal by the mixer spec").first().waitFor();
  assert.equal(await page.locator(".swatch.dot").count(), 0);
}));

test("what a failing verdict rests on is marked", { timeout: 60_000 }, () => stage({}, async ({ visit }) => {
  const page = await evidenceOf(visit, "signal-loss");
  await page.locator(".swatch.dot").first().waitFor();
  await page.getByText("allowed by the mixer spec").first().waitFor();
}));
