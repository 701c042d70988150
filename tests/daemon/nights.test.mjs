// A night runs once, over both clock changes of a year, in a daemon whose clock is led there by libfaketime (Debian package faketime). The
// changes of Europe/Berlin in 2027: 28 March, 02:00 becomes 03:00 at 01:00 UTC; 31 October, 03:00 becomes 02:00 at 01:00 UTC
// (Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC).
//
// Every step has a control: another night in UTC, due for the first time at the step's instant and listed after the one in question. When its
// job is there, the daemon has looked at the clock, and has found the other night due or not.
import assert from "node:assert/strict";
import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, test } from "node:test";
import { workshop } from "./support/workshop.mjs";

const kLibraries = "/usr/lib";
const library = existsSync(kLibraries) && readdirSync(kLibraries).map((folder) => join(kLibraries, folder, "faketime/libfaketimeMT.so.1")).find(existsSync);
const skip = library ? false : "no libfaketime; Debian has it in the package faketime";

/** `steps`: [UTC instant, nights that must have run by then, UTC instant of the control if another]. `killed`: the step before which the daemon is killed and started again. */
async function lead(t, { steps, killed }) {
  const shop = await workshop(t, { start: false });
  const clock = (utc) => shop.write("clock", `@${utc.replace("T", " ")}:30`);
  const control = steps.map(([utc, , own = utc], i) => ({ name: `control-${i}`, plan: "quick", at: own.slice(11), zone: "Etc/UTC", within_h: 1 }));
  shop.configure({ nights: [{ name: "nightly", plan: "quick", at: "02:30", zone: "Europe/Berlin" }, ...control] });
  // Only the wall clock is led; waiting goes by the real one. `@`: it ticks on from there.
  const faketime = { FAKETIME_TIMESTAMP_FILE: join(shop.folder, "clock"), FAKETIME_NO_CACHE: "1", FAKETIME_DONT_FAKE_MONOTONIC: "1", FAKETIME_DONT_RESET: "1" };
  const env = { LD_PRELOAD: library, TZ: "UTC", ...faketime };
  // A night that was due before the daemon first read of it is not run, so it has to know them all by then.
  clock(new Date(Date.parse(`${steps[0][0]}Z`) - 12 * 3_600_000).toISOString().slice(0, 16));
  await shop.start({ env });
  await shop.until("every night is planned", () => steps.length + 1 === shop.said.match(/night \S+: planned/g)?.length, 20000);
  assert.deepEqual(await shop.all("/api/1/jobs"), [], "nothing is begun that nobody expects");
  for (const [i, [utc, expected, own = utc]] of steps.entries()) {
    if (i === killed) await shop.kill();
    clock(utc);
    if (i === killed) await shop.start({ env });
    const jobs = await shop.until(`the daemon has looked at ${utc}Z`, async () => {
      const all = await shop.all("/api/1/jobs");
      return all.some((j) => j.night === `control-${i} ${own.slice(0, 10)}`) ? all : null;
    }, 20000);
    const nights = jobs.map((j) => j.night).filter((night) => night.startsWith("nightly")).sort();
    assert.deepEqual(nights, expected.map((date) => `nightly ${date}`), `at ${utc}Z`);
  }
  const nightly = (await shop.all("/api/1/jobs")).filter((j) => j.night.startsWith("nightly"));
  for (const job of nightly) assert.equal((await shop.end(job)).run.verdict, "pass");
}

// Beside one another: what takes the time is the daemon's look at the clock every five seconds.
describe("nights", { skip, concurrency: true }, () => {
  test("spring: 02:30 does not come, and the night runs once, at the jump", (t) =>
    lead(t, { killed: 2, steps: [
      ["2027-03-28T00:58", []],                             // 01:58
      ["2027-03-28T01:01", ["2027-03-28"]],                 // 03:01
      ["2027-03-28T01:32", ["2027-03-28"]],                 // 03:32, where 02:30 would have been; after a kill
      ["2027-03-29T00:32", ["2027-03-28", "2027-03-29"]],   // 02:32 of the next night
    ] }));

  test("autumn: 02:30 comes twice, and the night runs once, the first time", (t) =>
    lead(t, { killed: 2, steps: [
      ["2027-10-31T00:28", []],                             // 02:28 the first time
      ["2027-10-31T00:32", ["2027-10-31"]],                 // 02:32 the first time
      ["2027-10-31T01:32", ["2027-10-31"]],                 // 02:32 the second time; after a kill
      ["2027-11-01T01:32", ["2027-10-31", "2027-11-01"]],   // 02:32 of the next night
    ] }));

  test("a clock set back does not run a night again", (t) =>
    lead(t, { steps: [
      ["2027-06-10T00:32", ["2027-06-10"]],                 // 02:32
      ["2027-06-10T00:28", ["2027-06-10"], "2027-06-09T23:30"],  // 02:28 again; the control is left out an hour later, so before
      ["2027-06-10T00:40", ["2027-06-10"]],                 // 02:40
    ] }));
});
