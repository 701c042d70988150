// One daemon in a temporary folder: its configuration made from a few named values, its process, its address.
//
//   const shop = await workshop(test, { benches: 2 });      // listens when this returns; killed and tidied up after the test
//   await shop.end(await shop.submit({ plan: "quick" }));    // the job's last run
//
// MIDSTICK_BIN: folder of the programs; the AVR images are build/images, whatever the programs were built for. MIDSTICK_KEEP=1: folders stay, for a look.
import assert from "node:assert/strict";
import { once } from "node:events";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { ask } from "./ask.mjs";
import { child } from "./child.mjs";
import { Live } from "./live.mjs";
import { until } from "./until.mjs";

export const bin = process.env.MIDSTICK_BIN ?? fileURLToPath(new URL("../../../build/bin/", import.meta.url));
/** A file of build/images. */
export const image = (name) => fileURLToPath(new URL(`../../../build/images/${name}`, import.meta.url));
export const program = (name) => join(bin, name);
const source = (path) => readFileSync(new URL(`../../../${path}`, import.meta.url), "utf8");
const kStartMs = 20000, kStopMs = 20000, kJobMs = 60000;

/** Checks of the plans that every workshop has. Board time; the in-process bench plays some 15 s of it in one of the processor's. */
const kPlans = {
  quick: [{ check: "neutral", for_ms: 500 }],
  drive: [{ check: "static-mix" }, { check: "latency", steps: 8 }],
  while: [{ check: "neutral", for_ms: 25000 }],
  watch: [{ check: "neutral", for_ms: 600000 }],
};

export class Workshop {
  constructor() {
    this.folder = mkdtempSync(join(tmpdir(), "midstick-daemon-"));
    this.keep = join(this.folder, "store");
    this.socket = join(this.keep, "midstick.sock");
    this.children = [];
    this.atClose = [];
    const controller = JSON.parse(source("fixtures/mower/controller.json"));
    this.write("controller.json", { ...controller, image: image("drive-correct.elf") });
    writeFileSync(join(this.folder, "mixer.json"), source("fixtures/mower/mixer.json"));
    for (const [name, checks] of Object.entries(kPlans)) this.plan(name, checks);
  }

  write(name, document) {
    writeFileSync(join(this.folder, name), typeof document === "string" ? document : JSON.stringify(document, null, 1));
    return join(this.folder, name);
  }

  plan(name, checks) {
    this.write(`${name}.json`, { format: "midstick plan 1", name, mixer: "mixer.json", controller: "controller.json", seed: 20, checks });
  }

  /** `benches`: how many virtual ones ("bench-1", ...), or a list as the configuration has it. All else as the configuration has it. */
  configure({ benches = 1, plans = Object.keys(kPlans), tokens, ...rest } = {}) {
    const virtual = (_, i) => ({ name: `bench-${i + 1}`, address: "virtual:controller.json" });
    const listen = { port: 0, ...rest.listen };
    this.socket = listen.socket ? join(this.folder, listen.socket) : join(this.keep, "midstick.sock");
    if (tokens) listen.tokens = this.write("tokens.json", { tokens });
    return this.write("daemon.json", {
      format: "midstick daemon 1", name: "workshop", keep: "store",
      benches: Array.isArray(benches) ? benches : Array.from({ length: benches }, virtual),
      controllers: [{ name: "mower" }],
      plans: plans.map((name) => ({ name, file: `${name}.json`, controller: "mower" })),
      ...rest, listen,
    });
  }

  /** Starts the daemon; returns at once. `before`: a command that runs it, say under a false clock. */
  launch({ before = [], env = {} } = {}) {
    const [command, ...args] = [...before, program("midstickd"), "--config", join(this.folder, "daemon.json")];
    this.daemon = child(command, args, { cwd: this.folder, env: { ...process.env, ...env } });
    this.gone = once(this.daemon, "exit").then(([code, signal]) => signal ?? code);
    return this.daemon;
  }

  get said() { return this.daemon?.said ?? ""; }
  /** The address that it printed; nothing before it listens. */
  get url() { return /^page: (http:\S+)$/m.exec(this.said)?.[1] ?? null; }

  /** Listens and has its database when this returns; `store: "away"`: listens. */
  async start({ store = "ready", ...how } = {}) {
    this.launch(how);
    await this.until("the daemon listens", () => this.url ?? this.refuseEnd(), kStartMs);
    if (store === "ready") await this.until("the database is open", async () => (await this.health()).store.state === "ready", kStartMs);
    return this;
  }

  refuseEnd() {
    assert.equal(this.daemon.exitCode ?? this.daemon.signalCode, null, `the daemon ended by itself:\n${this.said.slice(-3000)}`);
    return null;
  }

  signal(name) { this.daemon.kill(name); }
  async kill() { this.signal("SIGKILL"); return this.gone; }
  /** The exit code of a clean stop. */
  async stop() {
    this.signal("SIGTERM");
    await this.until("the daemon stops", () => this.daemon.exitCode !== null || this.daemon.signalCode !== null, kStopMs);
    return this.gone;
  }

  /** Any other program, ended with the workshop. */
  run(command, args, options = {}) {
    this.children.push(child(command, args, { cwd: this.folder, ...options }));
    return this.children.at(-1);
  }

  /** Asks over the Unix socket, which knows no rate limit: { status, type, headers, text, body }. */
  ask(method, path, options = {}) { return ask({ socketPath: this.socket }, method, path, { ...options, headers: { ...this.headers, ...options.headers } }); }
  /** The body of an answer that must be 200. */
  async get(path, options) {
    const answer = await this.ask("GET", path, options);
    assert.equal(answer.status, 200, `GET ${path}: ${answer.text.slice(0, 500)}`);
    return answer.body ?? answer.text;
  }
  /** Every item of a paged list, newest first. */
  async all(path) {
    const items = [];
    for (let next = ""; next !== null; ) {
      const page = await this.get(`${path}?limit=200${next && `&before=${next}`}`);
      items.push(...page.items);
      next = page.next;
    }
    return items;
  }
  /** The job as it was acknowledged. */
  async submit(job) {
    const answer = await this.ask("POST", "/api/1/jobs", { json: job });
    assert.equal(answer.status, 201, `submit ${JSON.stringify(job)}: ${answer.text.slice(0, 500)}`);
    return answer.body;
  }
  /** Waits until the job has ended; its last run, with `state` of the job beside. */
  async end({ id }, limit = kJobMs) {
    const job = await this.until(`job ${id} ends`, async () => {
      const now = await this.get(`/api/1/jobs/${id}`);
      return ["queued", "running"].includes(now.state) ? null : now;
    }, limit);
    return { job, run: job.run ? await this.get(`/api/1/runs/${job.run}`) : null };
  }
  running(bench = "bench-1", limit = 20000) {
    return this.until(`${bench} plays`, async () => {
      const now = await this.get(`/api/1/benches/${bench}`);
      return now.state === "running" && now.done_ms > 0 ? now : null;
    }, limit);
  }
  health() { return this.get("/api/1/health"); }
  live(query = "") { return Live.open(`${this.url}api/1/live${query}`.replace("http", "ws")); }

  until(what, probe, limit) { return until(what, probe, limit, () => `\n--- the daemon said:\n${this.said.slice(-3000)}`); }

  /** Folder of a run, and what its run.json says; nothing when there is none. */
  runFolder(id) { return join(this.keep, "runs", String(id)); }
  foldersOnDisk() {
    let names = [];
    try { names = readdirSync(join(this.keep, "runs")); } catch { /* no run yet */ }
    return names.filter((name) => /^\d+$/.test(name)).map(Number);
  }
  saysComplete(id) {
    try { return JSON.parse(readFileSync(join(this.runFolder(id), "run.json"), "utf8")).state === "complete"; } catch { return false; }
  }

  async close() {
    const all = [this.daemon, ...this.children].filter((one) => one && one.exitCode === null && one.signalCode === null);
    await Promise.all(all.map((one) => (one.kill("SIGKILL"), once(one, "exit"))));
    for (const undo of this.atClose.reverse()) await undo();
    if (process.env.MIDSTICK_KEEP) console.log(`kept: ${this.folder}`);
    else rmSync(this.folder, { recursive: true, force: true });
  }
}

/** A workshop with its daemon started, closed after the test. `start: false`: configured only. */
export async function workshop(test, { start = true, ...values } = {}) {
  const shop = new Workshop();
  test.after(() => shop.close());
  shop.configure(values);
  return start ? shop.start() : shop;
}
