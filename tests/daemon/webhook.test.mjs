// A webhook's receiver that fails twice and then takes it: one delivery, of the run as the API gives it.
import assert from "node:assert/strict";
import { createServer } from "node:http";
import { once } from "node:events";
import { test } from "node:test";
import { hold } from "../browser/stub/contract.mjs";
import { workshop } from "./support/workshop.mjs";

const kDeliveredMs = 40000;  // pauses of 5 s and 10 s, see daemon/service/webhooks.hpp

/** Answers with these statuses in turn, then 200; "cut" breaks the connection. */
async function receiver(t, statuses) {
  const taken = [], calls = [];
  const server = createServer(async (request, response) => {
    let body = "";
    for await (const part of request) body += part;
    const status = statuses[calls.length] ?? 200;
    calls.push({ at: performance.now(), status, method: request.method, type: request.headers["content-type"] });
    if (status === "cut") return request.socket.destroy();
    if (status < 300) taken.push(JSON.parse(body));
    response.writeHead(status).end();
  });
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  t.after(() => (server.closeAllConnections(), server.close()));
  return { calls, taken, url: `http://127.0.0.1:${server.address().port}/hook` };
}

test("a receiver that fails twice and then takes it", async (t) => {
  const flaky = await receiver(t, ["cut", 500]), choosy = await receiver(t, []), marker = await receiver(t, []);
  const shop = await workshop(t, { webhooks: [{ url: flaky.url }, { url: choosy.url, on: ["fail"] }, { url: marker.url, on: ["pass"] }] });
  const { run } = await shop.end(await shop.submit({ plan: "quick", build: "told" }));
  await shop.until("it is delivered", () => flaky.taken.length > 0, kDeliveredMs);
  assert.deepEqual(flaky.taken, [run], "the run as the API gives it");
  hold("/components/schemas/Run", flaky.taken[0]);
  assert.deepEqual(flaky.calls.map((c) => c.status), ["cut", 500, 200]);
  assert.ok(flaky.calls.every((c) => c.method === "POST" && c.type === "application/json"));
  const [first, second] = [1, 2].map((i) => flaky.calls[i].at - flaky.calls[i - 1].at);
  assert.ok(second > first, `pauses grow: ${first.toFixed(0)} ms, ${second.toFixed(0)} ms`);
  // Another run, told to all: what was delivered is not delivered again, and who wants only failures hears nothing.
  await shop.end(await shop.submit({ plan: "quick", build: "told too" }));
  await shop.until("the second is delivered", () => flaky.taken.length > 1 && marker.taken.length > 1, kDeliveredMs);
  assert.deepEqual(flaky.taken.map((r) => r.build), ["told", "told too"]);
  assert.deepEqual(choosy.calls, []);
});
