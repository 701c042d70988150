// Starts a program that dies with the test, however that ends.
import { spawn } from "node:child_process";

/** As child_process.spawn does; what it prints, both streams, gathers in `said`. The process is the program itself: setpriv becomes it. */
export function child(command, args, options = {}) {
  const made = spawn("setpriv", ["--pdeathsig", "KILL", command, ...args], { stdio: ["ignore", "pipe", "pipe"], ...options });
  made.said = "";
  for (const stream of [made.stdout, made.stderr]) stream?.setEncoding("utf8").on("data", (text) => (made.said += text));
  return made;
}
