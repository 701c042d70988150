// What the stub knows: benches, plans, runs, jobs, trends. Times hang on the moment it is made, so that "tonight" is always tonight.
import { night } from "./evidence.mjs";
import { notRun } from "./contract.mjs";

const kHour = 3_600_000;
const iso = (ms) => new Date(ms).toISOString();

const kPlan = "bank mower, nightly";
const kController = "drive controller";
const kLong = "drive controller with the long-range receiver and the second steering servo, prototype on the green bench";

/** What a failing check was before: one of each kind. */
const before = (check) => (check === "signal-loss" ? { new: true, before: "pass", before_run: 38 } : check === "random-sticks" ? { new: false, before: "fail", before_run: 37 } : { new: false, before: "none", before_run: null });

export class World {
  constructor({ now = Date.now(), empty = false } = {}) {
    this.now = now;
    this.store = { state: "ready", kind: "sqlite", detail: "", since: null, unsaved_runs: 0, free_bytes: 182_000_000_000 };
    this.benches = benches();
    this.plans = [plan(kPlan, "fixtures/mower/nightly.json", night.checks.map((c) => c.name), night.total_ms),
      plan("soak", "fixtures/mower/soak.json", ["static-mix", "random-sticks", "signal-loss"], 5.2 * kHour),
      { ...plan("slope trial", "/etc/midstick/slope.json", [], 0), problem: "/etc/midstick/slope.json, line 12: check \"slopes\" is unknown" }];
    this.controllers = [{ name: kController, prepare: true }, { name: kLong, prepare: false }];
    this.nights = empty ? [] : schedule(now);
    this.runs = empty ? [] : history(now);
    this.jobs = empty ? [] : this.runs.map((r) => job(r.job, { state: "done", plan: r.plan, controller: r.controller, build: r.build, bench: r.bench, submitted: r.began, ended: r.ended, begun: 1, run: r.id, night: `nightly ${r.began.slice(0, 10)}` }));
    this.nextRun = (this.runs[0]?.id ?? 0) + 1;
    this.nextJob = (this.jobs[0]?.id ?? 0) + 1;
  }

  health() {
    const of = (state) => this.benches.filter((b) => b.state === state).length;
    return { state: this.store.state === "ready" ? "ready" : "degraded", version: "0.1.0", now: iso(Date.now()), clock_zone: "Europe/Berlin", store: this.store,
      benches: { ready: of("ready"), running: of("running"), held: of("held"), missing: of("missing") }, queued: this.jobs.filter((j) => j.state === "queued").length };
  }

  tonight() {
    const since = Date.now() - 24 * kHour, runs = this.runs.filter((r) => Date.parse(r.began) >= since);
    const broke = runs.filter((r) => r.verdict === "fail").flatMap((r) => this.checks(r).filter((c) => c.verdict === "fail").map((c) => ({ run: r.id, controller: r.controller, build: r.build, check: c.name, summary: c.summary, cause: c.cause, ...before(c.name) })));
    const quarantined = runs.length ? [{ controller: kController, plan: kPlan, check: "outlier-rhythm", flips: 3, of: 10 }] : [];
    return { since: iso(since), runs, broke, drifted: runs.length ? [drift()] : [], quarantined, nights: this.nights };
  }

  checks(run) {
    if (run.state !== "complete") return [];
    return night.checks.map((c) => {
      const good = run.verdict === "pass" && c.verdict !== "not run";
      const verdict = good ? "pass" : c.verdict === "not run" ? notRun : run.verdict === "inconclusive" && c.verdict === "fail" ? "pass" : c.verdict;
      return { name: c.name, verdict, summary: good && c.verdict !== "pass" ? "As the mixer spec says." : c.summary, cause: verdict === "fail" ? c.causes[0]?.text ?? "" : "",
        quarantined: c.name === "outlier-rhythm", script: verdict !== notRun && c.name !== "clock-ratio" };
    });
  }

  submit(request, extra = {}) {
    const plan = this.plans.find((p) => p.name === request.plan);
    const made = job(this.nextJob++, { plan: request.plan, controller: request.controller ?? plan.controller, build: request.build ?? "", bench: request.bench ?? "", labels: request.labels ?? [], priority: request.priority ?? 0,
      submitted: iso(Date.now()), tries: request.tries ?? 1, waits_for: "every fitting bench runs another job", ...extra });
    this.jobs.unshift(made);
    return made;
  }

  /** The job begins on a bench: its run. */
  begin(made, bench, total = night.total_ms) {
    const id = this.nextRun++;
    const run = { id, job: made.id, plan: made.plan, controller: made.controller, build: made.build, bench: bench.name, began: iso(Date.now()), ended: null, state: "running", verdict: "", summary: "", cause: "",
      checks: 0, failed: 0, inconclusive: 0, bytes: 0, evidence: true };
    this.runs.unshift(run);
    Object.assign(made, { state: "running", run: id, begun: made.begun + 1, waits_for: "" });
    Object.assign(bench, { state: "running", run: id, job: made.id, check: night.checks[0].name, segment: 1, segments: 38, done_ms: 0, total_ms: total, detail: `run ${id}` });
    return run;
  }

  end(bench, stopped) {
    const run = this.runs.find((r) => r.id === bench.run), made = this.jobs.find((j) => j.id === bench.job);
    Object.assign(run, stopped ? { state: "incomplete", summary: "Stopped by a person.", ended: iso(Date.now()) } : { ...kFailed, ended: iso(Date.now()) });
    Object.assign(made, { state: "done", ended: iso(Date.now()), note: stopped ? "stopped" : "" });
    Object.assign(bench, { state: "ready", run: null, job: null, check: "", segment: 0, segments: 0, done_ms: 0, total_ms: 0, detail: "" });
  }

  /** Somebody opens the stop loop while a run plays: the run ends, and the bench is held. */
  openLoop(bench) {
    const run = bench.run;
    this.end(bench, true);
    Object.assign(bench, { state: "held", detail: `run ${run}: the bench board went safe during the run, 41.2 s after it began: the stop loop is open (stop_loop_open, reason 2)` });
  }

  trend(controller, plan, metric, wanted) {
    const drifting = metric.startsWith("neutral"), of = this.runs.filter((r) => r.state === "complete" && r.plan === plan && r.controller === controller);
    const bench = wanted || (of[0]?.bench ?? ""), benches = [...new Set(of.map((r) => r.bench))].sort();
    const points = of.filter((r) => r.bench === bench).reverse().map((r, i) => ({ run: r.id, at: r.began, build: r.build,
      value: Number((drifting ? 1500 + ((i * 37) % 11) / 10 - 0.5 + Math.max(0, i - 28) * 0.8 : 20 + ((i * 53) % 17) / 20).toFixed(3)), uncertainty: 0.25 }));
    if (points.length < 14) return { controller, plan, metric, bench, benches, unit: drifting ? "us" : "ms", points, centre: null, low: null, high: null, drift: null, detail: `${points.length} nights; 14 are needed before a night is judged.` };
    return { controller, plan, metric, bench, benches, unit: drifting ? "us" : "ms", points, centre: drifting ? 1500 : 20.4, low: drifting ? 1498.1 : 19.6, high: drifting ? 1501.9 : 21.3, drift: drifting ? drift() : null,
      detail: "Judged night by night against all nights before it; the first 14 teach what is normal." };
  }
}

const kFailed = { state: "complete", verdict: "fail", summary: "33 passed, 4 failed, 1 inconclusive, 1 not run. First: random-sticks.", cause: night.checks.find((c) => c.name === "signal-loss").causes[0].text,
  checks: night.checks.length, failed: 4, inconclusive: 1, bytes: 4_102_000 };
const kPassed = { state: "complete", verdict: "pass", summary: "38 passed, 1 not run.", cause: "", checks: night.checks.length, failed: 0, inconclusive: 0, bytes: 3_204_000 };
const kUnclear = { ...kPassed, verdict: "inconclusive", summary: "37 passed, 1 inconclusive, 1 not run. First: recovery.", inconclusive: 1 };

function benches() {
  const idle = { run: null, job: null, check: "", segment: 0, segments: 0, done_ms: 0, total_ms: 0 };
  return [
    { name: "virtual bench", address: "virtual:fixtures/mower/controller.json", labels: ["virtual"], state: "ready", detail: "", board: "bench board, firmware 1.0", virtual: true, calibration: null, ...idle },
    { name: "green bench", address: "serial:/dev/ttyACM0", labels: ["real", "relay"], state: "ready", detail: "", board: "bench board 75833353, firmware 1.0", virtual: false,
      calibration: { board: "75833353", date: "2026-09-14T08:20:00.000Z", valid_until: "2027-03-13T08:20:00.000Z", state: "valid", detail: "Measured with jumpers; supply 5020 mV." }, ...idle },
    { name: "hall bench", address: "usb:2341:0042:95530343834351E0F1A2", labels: ["real"], state: "missing", detail: "no port with the address usb:2341:0042:95530343834351E0F1A2", board: "", virtual: false,
      calibration: { board: "95530343", date: "2025-10-02T10:00:00.000Z", valid_until: "2026-03-31T10:00:00.000Z", state: "old", detail: "Its 180 days are over." }, ...idle },
  ];
}

const plan = (name, file, checks, board_ms) => ({ name, file, controller: kController, checks, board_ms, problem: "" });

const job = (id, rest) => ({ id, state: "queued", plan: "", controller: "", build: "", bench: "", labels: [], priority: 0, submitted: "", ended: null, deadline: null, begun: 0, tries: 1, run: null, night: "", replay: false, note: "", waits_for: "", ...rest });

const drift = () => ({ controller: kController, plan: kPlan, bench: "virtual bench", metric: "neutral: left", unit: "us", began: "run 30", size: 8.4, detail: "Creeps up since 10 nights; the limit of 5 µs was crossed two nights ago." });

function schedule(now) {
  const next = new Date(now);
  next.setHours(26, 30, 0, 0);
  return [{ name: "nightly", plan: kPlan, controller: kController, at: "02:30", zone: "Europe/Berlin", next: next.toISOString(), last: { night: `nightly ${iso(now).slice(0, 10)}`, job: 40, run: 40, verdict: "fail" } },
    { name: "weekend soak", plan: "soak", controller: kLong, at: "22:00", zone: "Europe/Berlin", next: iso(next.getTime() + 43.5 * kHour), last: null }];
}

/** 40 nights, newest first; the last three within the last day. */
function history(now) {
  const runs = [];
  for (let id = 1; id <= 40; ++id) {
    const began = id > 37 ? now - [16, 9.5, 3.2][id - 38] * kHour : now - (41 - id) * 24 * kHour;
    const outcome = id === 40 || id === 33 ? kFailed : id === 39 ? kUnclear : kPassed;
    const controller = id === 39 ? kLong : kController;
    runs.unshift({ id, job: id, plan: kPlan, controller, build: id < 20 ? "rev A" : id === 39 ? "rev-b-2026-11-24-feature-long-antenna-and-brake-hold-experiment-17" : "rev B", bench: id === 39 ? "green bench" : "virtual bench",
      began: iso(began), ended: iso(began + 126_000), ...outcome, evidence: id > 20 });
  }
  runs.find((r) => r.id === 36).state = "interrupted";
  Object.assign(runs.find((r) => r.id === 36), { verdict: "", summary: "The daemon was killed while it played.", checks: 0 });
  return runs;
}
