// A client of /api/1/live: keeps what it hears, with the time of each message.
import { once } from "node:events";
import { WebSocket } from "ws";
import { until } from "./until.mjs";

export class Live {
  static async open(url) {
    const live = new Live(url);
    await once(live.socket, "open");
    return live;
  }
  constructor(url) {
    this.heard = [];  // { at: ms, type, ... } without the lines of a live message, which are many
    this.closed = null;
    this.socket = new WebSocket(url, { perMessageDeflate: false });
    this.socket.on("message", (bytes) => {
      const { lines, ...message } = JSON.parse(bytes);
      this.heard.push({ at: performance.now(), lines: lines?.length, ...message });
    });
    this.socket.on("close", (code) => (this.closed = code));
    this.socket.on("error", () => {});
  }
  /** Waits until something has changed that was not heard of before, but not for more than a second. Forgets what was heard. */
  change() {
    this.heard.length = 0;
    return this.until("a change", (m) => m.type === "changed", 1000).catch(() => null);
  }
  /** Takes nothing more from the network, as a laptop that was shut does. */
  stall() { this.socket.pause(); }
  until(what, wanted, limit) { return until(what, () => this.heard.find(wanted), limit); }
  close() { this.socket.terminate(); }
}
