// midstick-virtual: a bench on a pseudo-terminal in real time, and its own record of every true edge, which knows nothing of any daemon.
import { spawnSync } from "node:child_process";
import { closeSync, openSync, readFileSync, readSync } from "node:fs";
import { join } from "node:path";
import { program } from "./workshop.mjs";

// A real board shares no processor with anybody. Not everyone may ask for that; then the machine must be fast enough as it is.
const kFirst = spawnSync("chrt", ["--rr", "1", "true"]).status === 0 ? ["chrt", "--rr", "1"] : [];

export class VirtualBench {
  /** `faults`: as midstick-virtual takes them, "stop-loop=8000:open". */
  constructor(shop, name, faults = []) {
    Object.assign(this, { shop, name, link: join(shop.folder, `${name}.port`), truth: join(shop.folder, `${name}.csv`), at: 0, rest: "", edges: [] });
    const [command, ...args] = [...kFirst, program("midstick-virtual"), "controller.json", "--link", this.link, "--truth", this.truth, ...faults.flatMap((fault) => ["--fault", fault])];
    this.process = shop.run(command, args);
  }
  plugged() { return this.shop.until(`${this.name} is plugged in`, () => /^\/dev\//m.test(this.process.said), 10000); }
  config() { return { name: this.name, address: `serial:${this.link}` }; }
  /** How far it said that it fell behind real time, because this machine was too slow; it says so from 200 ms on. */
  behindMs() { return Number([...this.process.said.matchAll(/emulates too slowly: (\d+) ms/g)].at(-1)?.[1] ?? 0); }

  /** Edges so far: { wire, line, level, cycle, ms } with ms of true time since the bench was switched on. */
  look() {
    const file = openSync(this.truth, "r"), buffer = Buffer.alloc(1 << 16);
    try {
      for (let got; (got = readSync(file, buffer, 0, buffer.length, this.at)) > 0; this.at += got) this.rest += buffer.toString("latin1", 0, got);
    } finally {
      closeSync(file);
    }
    const lines = this.rest.split("\n");
    this.rest = lines.pop();
    for (const text of lines) {
      const [wire, line, level, cycle, ps] = text.split(",");
      if (wire !== "wire") this.edges.push({ wire, line: Number(line), level: Number(level), cycle: Number(cycle), ms: Number(ps) / 1e9 });
    }
    return this.edges;
  }
  last(wanted) { return this.look().findLast(wanted); }
  powered() { return this.last((e) => e.wire === "relay")?.level === 1; }
  /** Levels of the stimulus lines now. */
  pulses() {
    const levels = new Map();
    for (const e of this.look()) if (e.wire === "stimulus") levels.set(e.line, e.level);
    return [...levels.values()];
  }
}

/** How long the board waits for a good command before it goes safe: what the engine asks of it (PROTOCOL.md, start). */
export const refreshMs = Number(/kRefreshMs = (\d+)/.exec(readFileSync(new URL("../../../daemon/engine/player.hpp", import.meta.url), "utf8"))[1]);
