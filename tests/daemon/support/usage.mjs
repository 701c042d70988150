// What a process takes of the machine, from /proc.
import { readFileSync } from "node:fs";
import { execFileSync } from "node:child_process";

const kTicks = Number(execFileSync("getconf", ["CLK_TCK"], { encoding: "utf8" }));

/** { cpu_s: processor time so far, user and system; rss_mb: resident memory now; threads }. */
export function usage(pid) {
  const stat = readFileSync(`/proc/${pid}/stat`, "utf8");
  const fields = stat.slice(stat.lastIndexOf(")") + 2).split(" ");  // from field 3, state, on
  const status = readFileSync(`/proc/${pid}/status`, "utf8");
  return { cpu_s: (Number(fields[11]) + Number(fields[12])) / kTicks, rss_mb: Number(/VmRSS:\s+(\d+)/.exec(status)[1]) / 1024, threads: Number(fields[17]) };
}

/** Looks once a second while `on()`: { share: processors used on average, first_mb: resident when the first tenth was over, last_mb, peak_mb }. */
export async function watch(pid, seconds, busy) {
  const start = performance.now(), before = usage(pid), rss = [];
  for (let now = start; now - start < seconds * 1000; now = performance.now()) {
    await busy();
    if (now - start >= rss.length * 1000) rss.push(usage(pid).rss_mb);
  }
  const after = usage(pid), tenth = Math.max(1, Math.round(rss.length / 10));
  const mean = (part) => part.reduce((sum, mb) => sum + mb, 0) / part.length;
  return {
    share: (after.cpu_s - before.cpu_s) / ((performance.now() - start) / 1000),
    first_mb: mean(rss.slice(tenth, 2 * tenth)), last_mb: mean(rss.slice(-tenth)), peak_mb: Math.max(...rss), threads: after.threads,
  };
}
