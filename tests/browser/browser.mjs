// Chromium for the tests, from Debian, watched: a page may write no error to its console and ask nobody but its own origin.
import { mkdirSync } from "node:fs";
import { fileURLToPath } from "node:url";
import assert from "node:assert/strict";
import { chromium } from "playwright-core";

const kFlags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
export const screenshots = process.env.MIDSTICK_SCREENSHOTS ?? fileURLToPath(new URL("../../build/screenshots/", import.meta.url));

export const launch = () => chromium.launch({ executablePath: process.env.MIDSTICK_CHROMIUM ?? "/usr/bin/chromium", args: kFlags });

/** A tab on `url`. `expect`: console errors that this test causes on purpose (a regular expression). `clock`: its time can be stopped.
 *  `before`: what is done in it before its scripts. */
export async function visit(browser, url, { dark = false, phone = false, reducedMotion = false, expect = null, storage = {}, clock = false, before = null } = {}) {
  const context = await browser.newContext({ viewport: phone ? { width: 360, height: 740 } : { width: 1280, height: 860 }, colorScheme: dark ? "dark" : "light",
    reducedMotion: reducedMotion ? "reduce" : "no-preference", hasTouch: phone, timezoneId: "Europe/Berlin", locale: "en-GB" });
  const page = await context.newPage();
  const origin = new URL(url).origin, wrong = [], asked = [];
  const mind = (text) => expect?.test(text) || wrong.push(text);
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && mind(`console: ${message.text()} (${message.location().url})`));
  page.on("pageerror", (error) => wrong.push(`thrown: ${error.stack}`));
  page.on("request", (request) => asked.push(request.url()));
  page.on("websocket", (socket) => asked.push(socket.url().replace(/^ws/, "http")));
  for (const [key, value] of Object.entries(storage)) await page.addInitScript(([k, v]) => sessionStorage.setItem(k, v), [key, value]);
  if (before) await page.addInitScript(before);
  if (clock) await page.clock.install();
  await page.goto(url);
  return {
    page,
    /** Ends the visit; throws what was wrong with it. */
    async leave() {
      await context.close();
      assert.deepEqual(wrong, [], "the page wrote errors");
      assert.deepEqual(asked.filter((a) => new URL(a).origin !== origin && !a.startsWith("blob:") && !a.startsWith("data:")), [], "the page asked somebody else");
    },
  };
}

/** A browser whose user forbids pages to store anything: for `before`. */
export function forbidStoring() {
  for (const name of ["sessionStorage", "localStorage"]) Object.defineProperty(window, name, { get: () => { throw new DOMException("forbidden", "SecurityError"); } });
}

export async function picture(page, name) {
  mkdirSync(screenshots, { recursive: true });
  // As on a screen that is high enough: what is fixed to its edges then stands at the picture's edges.
  const screen = page.viewportSize(), high = await page.evaluate(() => document.documentElement.scrollHeight);
  await page.setViewportSize({ width: screen.width, height: Math.max(screen.height, high) });
  await page.screenshot({ path: `${screenshots}/${name}.png` });
  await page.setViewportSize(screen);
}

/** Settled: nothing is being fetched for a part of the view. */
export const settled = (page) => page.waitForFunction(() => !document.querySelector("[aria-busy]") && document.querySelector("main h1"));

/** Stops the time of a tab that was opened with `clock`: what happens now does not wait for any timer. */
export const stopTime = async (page) => page.clock.pauseAt((await page.evaluate(() => Date.now())) + 60_000);
