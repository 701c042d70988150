// Keeps a part of a view as the daemon says.

import { Lost } from "../api.js";
import { h, show } from "../dom.js";
import { news, state } from "../state.js";

const kSettleMs = 150;

/**
 * Shows `draw(await ask(signal))` in `box`, again whenever one of `topics` is told. What stood there stays when asking fails for lack of a
 * connection (the alarm above says so); a refusal is shown in its place. What failed for lack of the daemon, or in it, is asked again as soon
 * as the daemon is heard of. Gives { again, close }.
 */
export function keep(box, topics, ask, draw) {
  let stop = new AbortController(), timer = null, closed = false, failed = false;
  async function again() {
    clearTimeout(timer);
    timer = null;
    stop.abort();
    const mine = (stop = new AbortController());
    box.setAttribute("aria-busy", "true");
    try {
      const data = await ask(mine.signal);
      if (mine.signal.aborted) return;
      failed = false;
      show(box, () => draw(data), JSON.stringify(data) + Math.floor(Date.now() / 60_000));
    } catch (error) {
      if (mine.signal.aborted) return;
      failed = error instanceof Lost || error.status >= 500;
      // The same refusal is not read out again.
      if (!(error instanceof Lost) || !box.hasChildNodes()) show(box, refusal(error), `refusal ${error.message}`);
    }
    if (mine === stop) box.removeAttribute("aria-busy");
  }
  const soon = () => (timer ??= setTimeout(again, kSettleMs));
  const heard = () => failed && state.link !== "lost" && soon();
  const off = [...topics.map((topic) => news.on(topic, soon)), news.on("link", heard), news.on("health", heard)];
  again();
  return {
    again,
    close() {
      if (closed) return;
      closed = true;
      clearTimeout(timer);
      stop.abort();
      off.forEach((end) => end());
    },
  };
}

/** Why something cannot be shown, for a person. */
export function refusal(error) {
  if (error.status === 401) return h("p", { class: "note" }, "Waiting for a token.");
  const lines = (error.errors ?? []).map(({ pointer, detail }) => h("li", {}, pointer ? h("code", {}, pointer) : "", pointer ? ": " : "", detail));
  return h("div", { class: "refusal", role: "alert" }, h("p", {}, `This cannot be shown: ${error.message}`), lines.length ? h("ul", {}, lines) : null);
}
