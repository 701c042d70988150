// The page against a real daemon, in Chromium: submit, watch live, open a failing check, zoom, replay, stop (tests/browser/flow.test.mjs),
// with a controller that keeps driving when the link drops.
import assert from "node:assert/strict";
import { once } from "node:events";
import { test } from "node:test";
import { fileURLToPath } from "node:url";
import { image, workshop } from "./support/workshop.mjs";

const flow = fileURLToPath(new URL("../browser/flow.test.mjs", import.meta.url));

test("a person's way through the page, on a build with a fault", async (t) => {
  const shop = await workshop(t, { start: false });
  shop.plan("lost-link", [{ check: "neutral", for_ms: 60000 }, { check: "signal-loss", repeats: 20 }]);
  shop.configure({ benches: [{ name: "hold-last", address: `virtual:${image("drive-hold-last.json")}` }], plans: ["lost-link"] });
  await shop.start();
  const run = shop.run(process.execPath, ["--test", flow], { env: { ...process.env, NODE_TEST_CONTEXT: undefined, MIDSTICK_URL: shop.url, MIDSTICK_PLAN: "lost-link" } });
  const [code] = await once(run, "exit");
  assert.equal(code, 0, run.said);
  const runs = await shop.all("/api/1/runs");
  assert.deepEqual(runs.map((r) => r.verdict), ["inconclusive", "fail"], "the replay was stopped; the first run failed");
});
