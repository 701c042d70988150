// Every operation of the contract, asked wrongly in every way we know. The document is walked, so a new operation is abused from its first
// day. An answer must be a problem (RFC 9457) of a declared status, or of one that the server may give on any path; never 500.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { hold } from "../browser/stub/contract.mjs";
import { ask } from "./support/ask.mjs";
import { Workshop } from "./support/workshop.mjs";

const contract = JSON.parse(readFileSync(new URL("../../daemon/service/openapi.json", import.meta.url), "utf8"));
const operations = Object.entries(contract.paths).flatMap(([path, methods]) =>
  Object.entries(methods).map(([method, op]) => ({ path, method: method.toUpperCase(), id: op.operationId, scope: op["x-scope"], op, takes: !!op.requestBody })));

// Refusals of malformed or unwelcome requests, which the server gives ahead of any operation: daemon/http/contract.hpp, always_possible.
const kAnywhere = [400, 401, 403, 405, 408, 413, 414, 415, 421, 431, 505];
const kTokens = { read: "r".repeat(64), run: "u".repeat(64), admin: "a".repeat(64), old: "o".repeat(64) };
const kGood = { bench: "bench-1", file: "report.json", check: "neutral" };  // and a job and a run that are there
const kOversized = 70000;  // bytes; the limit is 64 KiB, see daemon/http/server.hpp

const kMalformed = ["{", "", "plan=quick", '{"plan":"quick"', '{"plan":"quick"}}', '{"plan":"quick","plan":"quick"}', "\u0000", "[".repeat(60000), '{"plan":"\\ud800"}', "nul"];
const kMisfits = {  // of a job, by member
  plan: [1, null, [], {}, "no such plan", "../../etc/passwd"],
  tries: ["2", 0, 6, 1.5, 1e99],
  priority: [-101, "high", null],
  seed: [-1, 2 ** 33, "x"],
  labels: ["a", [1], {}],
  checks: ["neutral", ["no such check"], [1]],
  bench: [1, "no such bench"],
  controller: ["no such controller", {}],
  deadline: ["tomorrow", "2020-01-01T00:00:00Z", 5],
  unknown: [1],
};
const kNoNumbers = {
  integer: ["abc", "-1", "0", "1.5", "0x10", "1e3", "99999999999999999999", "%20", ""],
  number: ["abc", "-1", "nan", "inf", "1e999", ""],
};
const kLeadElsewhere = [
  "..", "%2e%2e", "..%2f..%2f..%2fetc%2fpasswd", "%2e%2e%2f%2e%2e%2fdaemon.json", "..%5c..%5cdaemon.json", "%252e%252e%252fdaemon.json", "....%2f%2f", "%00", "1%00",
  "%2fetc%2fpasswd", "%c0%ae%c0%ae%2f", "daemon.json", "run.json", "..%2frun.json", "x".repeat(3000),
];

const shop = new Workshop();

// Every address has its own allowance of requests (50 a second); a loopback network has many addresses.
let asked = 0;
const address = () => `127.0.${2 + (Math.floor(asked++ / 100) % 200)}.1`;

const auth = (token) => (token ? { Authorization: `Bearer ${kTokens[token] ?? token}` } : {});
const to = (method, path, { token, headers = {}, ...rest } = {}) =>
  ask({ port: Number(new URL(shop.url).port), localAddress: address() }, method, path, { headers: { ...auth(token), ...headers }, ...rest });

const filled = (path, values = kGood) => path.replace(/\{(\w+)\}/g, (_, name) => values[name]);
const needed = (op) => {
  const query = (op.parameters ?? []).filter((p) => p.in === "query" && p.required).map((p) => `${p.name}=${p.name === "plan" ? "quick" : "mower"}`);
  return query.length ? `?${query.join("&")}` : "";
};
const upgrade = (id) => (id === "live" ? { Connection: "Upgrade", Upgrade: "websocket", "Sec-WebSocket-Version": "13", "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==" } : {});

before(async () => {
  const record = (name, scope, expires = null) => ({ name, scope, expires, sha256: createHash("sha256").update(kTokens[name]).digest("hex") });
  shop.configure({ plans: ["quick"], tokens: [record("read", "read"), record("run", "run"), record("admin", "admin"), record("old", "admin", "2026-01-01T00:00:00Z")] });
  shop.headers = auth("read");
  await shop.start();
  const job = await to("POST", "/api/1/jobs", { token: "run", json: { plan: "quick" } });
  assert.equal(job.status, 201, job.text);
  const done = await shop.until("a run is there", async () => {
    const now = await to("GET", `/api/1/jobs/${job.body.id}`, { token: "read" });
    return now.body?.state === "done" ? now.body : null;
  }, 30000);
  Object.assign(kGood, { job: String(done.id), run: String(done.run) });
});
after(() => shop.close());

/** The answer is a problem with one of these statuses, in the form and of a status that the contract has. */
function holdProblem(operation, answer, expected, what) {
  const where = `${operation.method} ${operation.path}, ${what}: ${answer.status} ${answer.text.slice(0, 300)}`;
  assert.ok(expected.includes(answer.status), `${where}; expected ${expected.join(" or ")}`);
  assert.ok(answer.status in operation.op.responses || kAnywhere.includes(answer.status), `${where}; not declared`);
  assert.equal(answer.type, "application/problem+json", where);
  hold("/components/schemas/Problem", answer.body);
  assert.equal(answer.body.status, answer.status, where);
  assert.ok(!/terminate|exception|\.cpp|root:|SELECT/i.test(answer.text), `${where}; tells of its inside`);
}

for (const operation of operations) {
  const { path, method, id, scope, op, takes } = operation;
  const faults = [];  // every one of a kind of abuse is told, not the first alone
  const wrong = async (what, expected, options, at = filled(path) + needed(op)) => {
    const answer = await to(method, at, { token: "admin", ...options, headers: { ...upgrade(id), ...options?.headers } });
    try {
      holdProblem(operation, answer, expected, what);
    } catch (error) {
      faults.push(error.message);
    }
  };
  const json = takes ? { plan: "quick" } : undefined;

  test(`${id}: ${method} ${path}`, async (t) => {
    const part = (name, abuse) => t.test(name, async () => {
      faults.length = 0;
      await abuse();
      assert.deepEqual(faults, []);
    });
    await part("without a right token", async () => {
      await wrong("no token", [401], { token: "", json });
      await wrong("an unknown token", [401], { token: "x".repeat(64), json });
      await wrong("an expired token", [401], { token: "old", json });
      await wrong("no bearer", [401], { token: "", json, headers: { Authorization: `Basic ${kTokens.admin}` } });
      await wrong("a made-up session", [401], { token: "", json, headers: { Cookie: `midstick_session=${"0".repeat(64)}` } });
      if (scope !== "read") await wrong("scope read", [403], { token: "read", json });
      if (scope === "admin") await wrong("scope run", [403], { token: "run", json });
    });

    await part("from elsewhere", async () => {
      const foreign = { headers: { Origin: "http://elsewhere.example" }, json };
      if (method !== "GET" || id === "live") {
        await wrong("a foreign origin", [403], foreign);
        await wrong("no origin at all (null)", [403], { headers: { Origin: "null" }, json });
        if (id !== "live") await wrong("another site, says the browser", [403], { headers: { "Sec-Fetch-Site": "cross-site" }, json });
      } else {
        const answer = await to("GET", filled(path) + needed(op), { token: "admin", ...foreign });
        assert.equal(answer.headers["access-control-allow-origin"], undefined, "no other page may read it");
      }
      for (const host of ["elsewhere.example", "127.0.0.1.elsewhere.example", "localhost@elsewhere.example", "elsewhere.example:80"])
        await wrong(`host ${host}`, [421, 400], { headers: { Host: host }, json });
    });

    await part("with a wrong body", async () => {
      const text = (body, type = "application/json") => ({ body, headers: { "Content-Type": type, "Content-Length": Buffer.byteLength(body) } });
      if (id === "live") return;
      await wrong("oversized", takes ? [413] : [400, 413], text(`{"plan":"${"x".repeat(kOversized)}"}`));
      if (!takes) return wrong("a body where none belongs", [400], text("{}"));
      await wrong("missing", [400], { json: undefined });
      await wrong("no JSON type", [415], text('{"plan":"quick"}', "text/plain"));
      await wrong("compressed", [415], { body: "x", headers: { "Content-Encoding": "gzip", "Content-Type": "application/json", "Content-Length": 1 } });
      for (const body of kMalformed)
        await wrong(`malformed ${JSON.stringify(body.slice(0, 20))}`, [400], text(body));
      for (const value of [null, [], "quick", 1, true, {}]) await wrong(`not an object ${JSON.stringify(value)}`, [400, 422], { json: value });
      for (const [member, values] of Object.entries(kMisfits))
        for (const value of values) await wrong(`${member}: ${JSON.stringify(value)}`, [400, 404, 422], { json: { plan: "quick", [member]: value } });
    });

    await part("with wrong parameters", async () => {
      for (const parameter of op.parameters ?? []) {
        const { name, schema } = parameter, values = kNoNumbers[schema.type] ?? [];
        if (parameter.in === "path") {
          for (const value of [...values, ...(schema.type === "integer" ? ["999999"] : [])]) await wrong(`${name} ${value}`, [404], {}, filled(path, { ...kGood, [name]: value }));
        } else {
          const rest = `${filled(path)}${needed(op) ? `${needed(op)}&` : "?"}`;
          for (const value of values.filter((v) => schema.minimum !== 0 || v !== "0")) await wrong(`${name}=${value}`, [400], {}, `${rest}${name}=${value}`);
          if (parameter.required) await wrong(`${name} missing`, [400], {}, filled(path));
          await wrong(`${name} twice`, [400], {}, `${rest}${name}=1&${name}=1`);
        }
      }
      await wrong("an unknown parameter", [400], { json }, `${filled(path)}${needed(op) ? `${needed(op)}&` : "?"}nonsense=1`);
      await wrong("a broken escape", [400, 404], { json }, `${filled(path)}/%zz`);
      await wrong("a very long target", [400, 404, 414, 431], { json }, `${filled(path)}?${"x".repeat(20000)}`);
    });

    await part("with paths that lead elsewhere", async () => {
      for (const { name } of (op.parameters ?? []).filter((p) => p.in === "path"))
        for (const value of kLeadElsewhere) await wrong(`${name} = ${value.slice(0, 40)}`, [400, 404], { json }, filled(path, { ...kGood, [name]: value }));
      await wrong("up and back", [400, 404], { json }, `/api/1/../1/${path.slice(7) || "x"}`);
    });

    await part("with another method", async () => {
      for (const other of ["GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "PROPFIND"].filter((m) => !(m.toLowerCase() in contract.paths[path]))) {
        const answer = await to(other, filled(path) + needed(op), { token: "admin" });
        holdProblem({ ...operation, method: other }, answer, [400, 405], "another method");
        if (answer.status === 405) assert.ok(answer.headers.allow?.includes(method), `Allow names ${method}: ${answer.headers.allow}`);
      }
    });

    const health = await to("GET", "/api/1/health", { token: "read" });
    assert.deepEqual([health.status, health.body.state], [200, "ready"], `it lives on after ${id}`);
    shop.refuseEnd();
  });
}

test("nothing of all this was taken for a job, or for the end of one", async () => {
  const { body } = await to("GET", "/api/1/jobs", { token: "read" });
  assert.deepEqual(body.items.map((j) => [String(j.id), j.state]), [[kGood.job, "done"]]);
});
