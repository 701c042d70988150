// /metrics under the eyes of Prometheus' own checker. promtool: Debian package prometheus.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { test } from "node:test";
import { workshop } from "./support/workshop.mjs";

const there = spawnSync("promtool", ["--version"]).error ? "no promtool; Debian has it in the package prometheus" : false;

// People's dashboards and alarms know these names; one that goes or is renamed breaks them.
const kNames = ["midstick_bench_state", "midstick_database_ready", "midstick_disk_free_bytes", "midstick_last_run_failed_checks", "midstick_live_clients",
  "midstick_live_dropped_total", "midstick_queued_jobs", "midstick_run_seconds_total", "midstick_runs_total", "midstick_unsaved_runs"];

async function text(t) {
  const shop = await workshop(t);
  await shop.end(await shop.submit({ plan: "quick" }));
  return shop.until("the run is counted", async () => {
    const answer = await shop.ask("GET", "/metrics");
    assert.deepEqual([answer.status, answer.type], [200, "text/plain"]);
    return answer.text.includes("midstick_runs_total{") ? answer.text : null;
  }, 10000);
}

test("promtool finds nothing to say", { skip: there }, async (t) => {
  const check = spawnSync("promtool", ["check", "metrics"], { input: await text(t), encoding: "utf8" });
  assert.deepEqual([check.status, check.stdout + check.stderr], [0, ""]);
});

test("the names stay", async (t) => {
  const got = await text(t);
  assert.deepEqual([...got.matchAll(/^# TYPE (\S+)/gm)].map((m) => m[1]).sort(), kNames);
  assert.match(got, /^midstick_runs_total\{controller="mower",plan="quick",verdict="pass"\} 1$/m);
  assert.match(got, /^midstick_bench_state\{bench="bench-1",state="ready"\} 1$/m);
  assert.match(got, /^midstick_database_ready 1$/m);
});
