// A daemon in memory, for what a real one cannot easily be put into. It serves the page as the daemon does, with the same content security
// policy, and answers by the contract. Run by itself it prints its address: node stub/server.mjs [PORT].
import { createServer } from "node:http";
import { randomUUID } from "node:crypto";
import { readFileSync } from "node:fs";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { WebSocketServer } from "ws";
import { holdAnswer, holdMessage, holdRequest, operation } from "./contract.mjs";
import { night, outputs, report, slice, sticks } from "./evidence.mjs";
import { World } from "./world.mjs";

const page = fileURLToPath(new URL("../../../daemon/page/", import.meta.url));
const policy = /kContentSecurityPolicy\s*=\s*"([^;]*(?:;[^"]*)?)"/.exec(readFileSync(join(page, "page.hpp"), "utf8"))[1];
const kTypes = { ".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml", ".txt": "text/plain; charset=utf-8" };
const kVendor = { "vendor/uPlot.esm.js": "node_modules/uplot/dist/uPlot.esm.js", "vendor/uPlot.min.css": "node_modules/uplot/dist/uPlot.min.css" };
const kLiveEveryMs = 50;

class Refusal extends Error {
  constructor(status, title, detail, errors) {
    super(detail);
    Object.assign(this, { status, title, errors });
  }
}
const missing = (what) => new Refusal(404, "Not found", `there is no ${what}`);

export class Stub {
  /** prefix: where the page lives, "/" at its end. token: what requests must carry. playMs: how long a run takes. failing: the status that
   * something before the daemon answers every request of the API with; 0: nothing is in between. spikeUs: the width that every throttle
   * pulse has instead. */
  constructor({ prefix = "/", token = "", playMs = night.total_ms, world = new World(), biasUs = 0 } = {}) {
    Object.assign(this, { prefix, token, playMs, world, biasUs, liveStalled: false, silent: false, failing: 0, spikeUs: null, requests: [], faults: [] });
    this.server = createServer((request, response) => this.#serve(request, response));
    this.sockets = new WebSocketServer({ noServer: true });
    this.server.on("upgrade", (request, socket, head) => this.#upgrade(request, socket, head));
    this.sockets.on("connection", (socket) => this.#send(socket, { type: "hello", version: "0.1.0", benches: this.world.benches.map((b) => b.name) }));
  }

  async open(port = 0) {
    await new Promise((done) => this.server.listen(port, "127.0.0.1", done));
    this.port = this.server.address().port;
    this.timer = setInterval(() => this.#play(), kLiveEveryMs);
    return (this.address = `http://127.0.0.1:${this.port}${this.prefix}`);
  }

  /** Gone as a killed daemon is: no goodbye. */
  async close() {
    clearInterval(this.timer);
    for (const socket of this.sockets.clients) socket.terminate();
    this.server.closeAllConnections();
    await new Promise((done) => this.server.close(done));
  }

  changed(what, id = null) {
    for (const socket of this.sockets.clients) this.#send(socket, { type: "changed", what, id });
  }

  /** Queued jobs that fit an idle bench begin; none while the store is away. */
  dispatch() {
    if (this.world.store.state === "away") return this.changed("benches");
    for (const job of this.world.jobs.filter((j) => j.state === "queued").sort((a, b) => b.priority - a.priority || a.id - b.id)) {
      const bench = this.world.benches.find((b) => b.state === "ready" && (job.bench ? b.name === job.bench : job.labels.every((l) => b.labels.includes(l))));
      if (bench) this.world.begin(job, bench, this.playMs);
    }
    for (const what of ["jobs", "runs", "benches", "health"]) this.changed(what);
  }

  #send(socket, message) {
    holdMessage(message);
    socket.send(JSON.stringify(message));
  }

  #play() {
    for (const bench of this.world.benches.filter((b) => b.state === "running")) {
      bench.done_ms += kLiveEveryMs;
      const of = night.checks.filter((c) => c.played.length);
      bench.segments = of.length;
      bench.segment = Math.min(of.length, 1 + Math.floor((bench.done_ms / bench.total_ms) * of.length));
      bench.check = of[bench.segment - 1].name;
      if (bench.done_ms >= bench.total_ms) {
        this.world.end(bench, false);
        this.dispatch();
      } else if (!this.liveStalled) {
        const from = bench.done_ms - kLiveEveryMs, pulses = (f) => [0, 20, 40].map((d) => from + d).filter((ms) => ms < bench.done_ms).map((ms) => [ms, Number(f(ms).toFixed(2))]);
        const line = (name, side, f) => (this.silent ? { name, side, us: null, pulses: [] } : { name, side, us: Number(f(bench.done_ms).toFixed(2)), pulses: pulses(f) });
        const lines = [line("throttle", "stick", (ms) => this.spikeUs ?? sticks(ms)[0]), line("steering", "stick", (ms) => sticks(ms)[1]), line("left", "output", (ms) => outputs(ms)[0]), line("right", "output", (ms) => outputs(ms)[1])];
        for (const socket of this.sockets.clients) this.#send(socket, { type: "live", bench: bench.name, run: bench.run, check: bench.check, segment: bench.segment, segments: bench.segments, done_ms: bench.done_ms, total_ms: bench.total_ms, lines });
      }
    }
  }

  #upgrade(request, socket, head) {
    if (!request.url.startsWith(`${this.prefix}api/1/live`) || !this.#known(request)) return socket.end("HTTP/1.1 401 Unauthorized\r\n\r\n");
    this.sockets.handleUpgrade(request, socket, head, (made) => this.sockets.emit("connection", made, request));
  }

  /** By the token itself, or by the cookie that it was given for. */
  #known({ headers }) {
    return !this.token || headers.authorization === `Bearer ${this.token}` || (this.session && headers.cookie?.includes(`midstick=${this.session}`));
  }

  /** Sessions are no part of the contract: they are the browser's way to carry a token. */
  #sessions(request, response) {
    if (!this.#known(request)) {
      const problem = { type: "about:blank", title: "Unauthorized", status: 401, detail: "this token is unknown or has run out" };
      return response.writeHead(401, { "Content-Type": "application/problem+json" }).end(JSON.stringify(problem));
    }
    this.session = request.method === "POST" ? randomUUID() : null;
    response.writeHead(204, { "Set-Cookie": `midstick=${this.session ?? ""}; HttpOnly; SameSite=Strict; Path=/` }).end();
  }

  async #serve(request, response) {
    const url = new URL(request.url, "http://127.0.0.1");
    this.requests.push(`${request.method} ${url.pathname}`);
    if (!url.pathname.startsWith(this.prefix)) return response.writeHead(404).end();
    const path = url.pathname.slice(this.prefix.length);
    if (!path.startsWith("api/")) return this.#file(path || "index.html", response);
    // As a proxy before a daemon that is not there.
    if (this.failing) return response.writeHead(this.failing).end();
    if (path === "api/1/session") return this.#sessions(request, response);
    const op = operation(request.method, `/${path}`);
    let body = "";
    for await (const chunk of request) body += chunk;
    let status = request.method === "POST" && ["submit", "replay"].includes(op?.id) ? 201 : 200, answer;
    try {
      // As the daemon does: nothing is changed for a page of another origin. A program that is no browser names none.
      const { origin, host } = request.headers;
      if (request.method !== "GET" && origin && origin !== `http://${host}`) throw new Refusal(403, "Forbidden", `this origin may not: ${origin}`);
      if (!op) throw missing(`${request.method} ${path}`);
      if (!this.#known(request)) throw new Refusal(401, "Unauthorized", request.headers.authorization ? "this token is unknown or has run out" : "a token is needed");
      answer = this.#answer(op, url.searchParams, body ? JSON.parse(body) : undefined);
    } catch (error) {
      if (!(error instanceof Refusal)) this.faults.push(error);
      status = error.status ?? 500;
      answer = { type: "about:blank", title: error.title ?? "Fault of the stub", status, detail: error.message, ...(error.errors ? { errors: error.errors } : {}) };
    }
    if (typeof answer === "string") return response.writeHead(status, { "Content-Type": "application/octet-stream" }).end(answer);
    try {
      if (op) holdAnswer(op, status, answer);
    } catch (error) {
      this.faults.push(error);
    }
    response.writeHead(status, { "Content-Type": status < 400 ? "application/json" : "application/problem+json" }).end(JSON.stringify(answer));
  }

  #file(path, response) {
    try {
      const file = kVendor[path] ? join(page, kVendor[path]) : join(page, "site", normalize(path).replace(/^(\.\.[/\\])+/, ""));
      const bytes = readFileSync(file);
      response.writeHead(200, { "Content-Type": kTypes[extname(file)] ?? "application/octet-stream", "Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff" }).end(bytes);
    } catch {
      response.writeHead(404).end();
    }
  }

  #page(list, query) {
    const before = Number(query.get("before") ?? Infinity), limit = Number(query.get("limit") ?? 50);
    const rest = list.filter((item) => item.id < before);
    return { items: rest.slice(0, limit), next: rest.length > limit ? String(rest[limit - 1].id) : null };
  }

  #stop(names) {
    const world = this.world, running = world.benches.filter((b) => b.state === "running" && (!names || names.includes(b.name)));
    const queued = names || world.store.state === "away" ? [] : world.jobs.filter((j) => j.state === "queued");
    for (const job of queued) Object.assign(job, { state: "cancelled", ended: new Date().toISOString(), note: "stopped with everything", waits_for: "" });
    for (const bench of running) world.end(bench, true);
    setTimeout(() => this.dispatch(), 0);
    if (!names && world.store.state === "away")
      throw new Refusal(503, "Store away", `Every bench was told to stop. What waits is cancelled as soon as the database is back, and nothing begins before that: ${world.store.detail}`);
    return { benches: running.map((b) => b.name), cancelled: queued.length };
  }

  #release(bench) {
    if (bench.state !== "held") throw new Refusal(409, "Not held", `bench ${bench.name} is not held`);
    Object.assign(bench, { state: "ready", detail: "" });
    setTimeout(() => this.dispatch(), 0);
    return { ...bench };
  }

  #answer({ id, parts }, query, body) {
    const { world } = this;
    const found = (list, key, value, what) => list.find((item) => String(item[key]) === value) ?? (() => { throw missing(`${what} ${value}`); })();
    const needsStore = ["tonight", "runs", "run", "checks", "report", "file", "script", "pulses", "jobs", "job", "submit", "replay", "metric_names", "trend"];
    if (world.store.state === "away" && needsStore.includes(id)) throw new Refusal(503, "Store away", `the store of runs is away: ${world.store.detail}`);
    const run = () => found(world.runs, "id", parts[0], "run");
    switch (id) {
      case "health": return world.health();
      case "benches": return world.benches;
      case "bench": return found(world.benches, "name", parts[0], "bench");
      case "plans": return world.plans;
      case "controllers": return world.controllers;
      case "nights": return world.nights;
      case "tonight": return world.tonight();
      case "stop": return this.#stop(null);
      case "stop_bench": return this.#stop([found(world.benches, "name", parts[0], "bench").name]);
      case "release_bench": return this.#release(found(world.benches, "name", parts[0], "bench"));
      case "jobs": return this.#page(world.jobs.filter((j) => !query.get("state") || j.state === query.get("state")), query);
      case "runs": return this.#page(world.runs.filter((r) => ["controller", "plan", "bench", "verdict"].every((k) => !query.get(k) || r[k] === query.get(k))), query);
      case "run": return run();
      case "checks": return world.checks(run());
      case "report": return report();
      case "file": return `a file of run ${run().id}: ${parts[1]}`;
      case "script": return { format: "midstick sticks 1", name: parts[1], moves: [{ hold: { throttle: 60, steering: 0 }, for_ms: 1200 }, { hold: { throttle: 0, steering: 0 }, for_ms: 400 }] };
      case "pulses": return slice(run().id, Number(query.get("from_ms") ?? 0), Number(query.get("to_ms") ?? night.total_ms), Number(query.get("points") ?? 1000), this.biasUs);
      case "metric_names": return [{ name: "neutral: left", unit: "us" }, { name: "latency: longest", unit: "ms" }];
      case "trend": return world.trend(query.get("controller"), query.get("plan"), query.get("metric"), query.get("bench"));
      case "job": return found(world.jobs, "id", parts[0], "job");
      case "submit": return this.#submit(body);
      case "replay": return this.#submit({ plan: run().plan, controller: run().controller, build: run().build, bench: run().bench }, { replay: query.has("check") });
      case "cancel": return this.#cancel(found(world.jobs, "id", parts[0], "job"));
    }
    throw missing(`answer of the stub for ${id}`);
  }

  #submit(body, extra) {
    if (!holdRequest(body)) throw new Refusal(422, "Not a job", "the request is no job", [{ pointer: "", detail: "see the contract" }]);
    const plan = this.world.plans.find((p) => p.name === body.plan);
    if (!plan) throw new Refusal(422, "Not a job", `there is no plan ${body.plan}`, [{ pointer: "/plan", detail: "expected the name of a plan" }]);
    const job = this.world.submit(body, extra);
    setTimeout(() => this.dispatch(), 0);
    return { ...job };
  }

  #cancel(job) {
    const bench = this.world.benches.find((b) => b.job === job.id);
    if (bench) this.world.end(bench, true);
    else if (job.state === "queued") Object.assign(job, { state: "cancelled", ended: new Date().toISOString(), note: "cancelled by a person", waits_for: "" });
    setTimeout(() => this.dispatch(), 0);
    return { ...job };
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) console.log(await new Stub().open(Number(process.argv[2] ?? 0)));
