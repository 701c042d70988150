// A real PostgreSQL of the test's own, as tests/records has one: Debian's server, a data folder and a Unix socket in a temporary folder, no TCP.
// Runs as the user "postgres" when the test runs as root, which the server refuses.
import { execFileSync, spawn } from "node:child_process";
import { once } from "node:events";
import { chownSync, existsSync, mkdtempSync, openSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { until } from "./until.mjs";

const kHome = "/usr/lib/postgresql";
const newest = () => existsSync(kHome) && readdirSync(kHome).filter((v) => existsSync(join(kHome, v, "bin/initdb"))).sort((a, b) => b - a)[0];
/** False, or why there is none. */
export const noPostgres = newest() ? false : "no PostgreSQL server in /usr/lib/postgresql; scripts/setup test installs it";

export class Postgres {
  static async open() {
    const server = new Postgres();
    server.execute("initdb", "-D", join(server.folder, "data"), "-U", "midstick", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync");
    await server.start();
    server.execute("createdb", "-h", server.folder, "-U", "midstick", "midstick");
    return server;
  }
  constructor() {
    this.folder = mkdtempSync(join(tmpdir(), "midstick-postgres-"));
    this.who = {};
    if (process.getuid() === 0) {
      const id = (flag) => Number(execFileSync("id", [flag, "postgres"], { encoding: "utf8" }));
      this.who = { uid: id("-u"), gid: id("-g") };
      chownSync(this.folder, this.who.uid, this.who.gid);
    }
    this.log = openSync(join(this.folder, "log"), "a");
  }
  program(name) { return join(kHome, newest(), "bin", name); }
  execute(name, ...args) { return execFileSync(this.program(name), args, { ...this.who, cwd: "/", encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] }); }
  get connection() { return `postgresql:host=${this.folder} user=midstick dbname=midstick`; }

  async start() {
    const args = ["-D", join(this.folder, "data"), "-k", this.folder, "-c", "listen_addresses=", "-c", "fsync=off"];
    this.server = spawn(this.program("postgres"), args, { ...this.who, cwd: "/", stdio: ["ignore", this.log, this.log] });
    await until("PostgreSQL takes connections", () => {
      try { return this.execute("pg_isready", "-h", this.folder); } catch { return null; }
    }, 30000);
  }
  /** As an administrator does: sessions are thrown out. */
  async stop() {
    if (this.server?.exitCode !== null) return;
    this.server.kill("SIGINT");
    await once(this.server, "exit");
  }
  async close() {
    await this.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
