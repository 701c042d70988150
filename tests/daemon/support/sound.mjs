// What must hold of a store whatever was done to its daemon: held from outside, against its files and what its API said.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { program } from "./workshop.mjs";

/** The SQLite database of a store that no daemon has open. A copy is asked, so that looking mends nothing. */
export function holdDatabase(keep) {
  const files = readdirSync(keep).filter((name) => /\.(sqlite3?|db)(-wal|-journal)?$/.test(name));
  const main = files.find((name) => !/-(wal|journal)$/.test(name));
  if (!main) return false;  // killed before it was made
  const folder = mkdtempSync(join(tmpdir(), "midstick-copy-"));
  try {
    for (const name of files) copyFileSync(join(keep, name), join(folder, name));
    assert.equal(execFileSync("sqlite3", [join(folder, main), "PRAGMA integrity_check"], { encoding: "utf8" }).trim(), "ok");
    assert.equal(execFileSync("sqlite3", [join(folder, main), "PRAGMA foreign_key_check"], { encoding: "utf8" }).trim(), "");
  } finally {
    rmSync(folder, { recursive: true });
  }
  return true;
}

export const digest = (file) => createHash("sha256").update(readFileSync(file)).digest("hex");

/** None doubled: runs and jobs belong to each other one to one. */
export function holdRows(jobs, runs) {
  assert.equal(new Set(runs.map((r) => r.id)).size, runs.length, "a run stands there once");
  for (const job of jobs) {
    const of = runs.filter((r) => r.job === job.id);
    assert.equal(of.length, job.begun, `job ${job.id} was begun as often as it has runs`);
    assert.ok(job.begun <= job.tries, `job ${job.id} was begun ${job.begun} times of ${job.tries}`);
    assert.equal(job.run, of.length ? Math.max(...of.map((r) => r.id)) : null, `job ${job.id} names its last run`);
    assert.ok(of.filter((r) => r.state === "complete").length <= 1, `job ${job.id} was finished once`);
  }
  for (const run of runs) assert.ok(jobs.some((j) => j.id === run.job), `run ${run.id} has a job`);
}

/** When all has ended: an interrupted run was played again while tries were left, else its job says that it was interrupted. */
export function holdEnds(jobs, runs) {
  for (const job of jobs) {
    const last = runs.find((r) => r.id === job.run);
    if (job.state === "done") assert.notEqual(last?.state, "interrupted", `job ${job.id} is done, but its run ${job.run} was interrupted`);
    else assert.deepEqual([job.state, last?.state, job.begun], ["interrupted", "interrupted", job.tries], `job ${job.id} was given up after its last try`);
  }
}

/** Every complete run's evidence: through the API, and through the program that judges a stored run again, for `judged` of them. */
export async function holdEvidence(shop, runs, judged) {
  const complete = runs.filter((r) => r.state === "complete");
  for (const run of complete) {
    const pulses = await shop.get(`/api/1/runs/${run.id}/pulses?points=10`);
    assert.ok(pulses.total_ms > 0 && pulses.lines.some((l) => l.side === "output" && l.pulses.length), `run ${run.id} shows its pulses`);
    const report = await shop.get(`/api/1/runs/${run.id}/report`);
    assert.equal(report.verdict, run.verdict, `run ${run.id} has the verdict of its report`);
  }
  for (const run of complete.slice(0, judged)) {
    const child = shop.run(program("midstick"), ["judge", shop.runFolder(run.id), "--out", join(shop.folder, `judged-${run.id}`)]);
    await shop.until(`run ${run.id} is judged again`, () => child.exitCode !== null, 30000);
    assert.equal(child.exitCode, run.verdict === "pass" ? 0 : 1, `run ${run.id} judged again:\n${child.said}`);
  }
  return complete.length;
}
