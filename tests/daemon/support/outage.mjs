// What is the same of every trouble of the store: the daemon says so in words, what was acknowledged is there afterwards, and it mends itself.
import assert from "node:assert/strict";

const kSeenMs = 15000, kMendedMs = 30000;  // the daemon tries again every few seconds

/** Waits until the store is away (or low, or full); `reason`: what a person must be able to read; `limit`, ms. */
export async function degraded(shop, reason, limit = kSeenMs) {
  // A daemon that just started has not tried yet, and says that first.
  return shop.until(`health is degraded and says why, as ${reason}`, async () => {
    const now = await shop.health();
    return now.state === "degraded" && reason.test(now.store.detail) ? now : null;
  }, limit);
}

export async function mended(shop) {
  const health = await shop.until("health is ready again", async () => {
    const now = await shop.health();
    return now.state === "ready" && now.store.unsaved_runs === 0 ? now : null;
  }, kMendedMs);
  assert.equal(health.store.detail, "");
  return health;
}

/** Submits, whatever comes: the job where it was acknowledged, else nothing; an answer must be that or a 503 that says why. */
export async function trySubmit(shop, job) {
  const answer = await shop.ask("POST", "/api/1/jobs", { json: job });
  assert.ok([201, 503].includes(answer.status), `submit answers ${answer.status}: ${answer.text}`);
  if (answer.status === 201) return answer.body;
  assert.equal(answer.type, "application/problem+json");
  assert.ok((answer.body.detail ?? "").length > 0, "a refusal says why");
  return null;
}

/** All of these jobs are there and come to an end; nothing stays behind as running. */
export async function nothingLost(shop, jobs) {
  for (const job of jobs.filter(Boolean)) {
    const { job: now, run } = await shop.end(job);
    assert.equal(now.build, job.build);
    assert.equal(now.state, "done", `job ${job.id}: ${now.note}`);
    assert.ok(run && run.ended, `job ${job.id} has a run that ended`);
  }
  const running = (await shop.all("/api/1/runs")).filter((r) => r.state === "running");
  assert.deepEqual(running, [], "no run stands there as if it still played");
}
