// The Stop button and its key. It asks nothing and works on every view, in every field; while the daemon cannot be reached it goes on
// trying for ten seconds and says loudly that nothing has been stopped yet.

import { Problem, post } from "./api.js";
import { say } from "./parts/say.js";
import { count } from "./words.js";
import { h, show } from "./dom.js";

const kKey = "F9";
const kEveryMs = 500, kTryForMs = 10_000;
const byHand = "Open the stop loop, or switch off the supply, by hand now.";

let busy = false, told = 0;

function tell(kind, first, rest) {
  const text = `${first} ${rest}`;
  const box = document.getElementById("stopped");
  box.className = `alarm ${kind}`;
  show(box, [h("p", {}, h("strong", {}, first), " ", rest), h("button", { type: "button", class: "plain", onclick: () => (box.className = "off") }, "Close")]);
  say(text, true);
  const mine = ++told;
  if (kind === "done") setTimeout(() => mine === told && (box.className = "off"), 12_000);
}

export async function stopAll() {
  if (busy) return;
  busy = true;
  const button = document.getElementById("stop");
  button.classList.add("pressed");
  const until = Date.now() + kTryForMs;
  for (;;) {
    try {
      const { benches, cancelled } = await post("stop", undefined, {}, 3000);
      tell("done", `Stop sent: ${benches.length ? benches.join(", ") : "no bench was running"}.`, `${cancelled ? count(cancelled, "queued job") + " cancelled." : "Nothing was queued."}`);
      break;
    } catch (error) {
      if (error instanceof Problem) {
        tell("bad", `Stop was refused: ${error.message}.`, byHand);
        break;
      }
      const tired = Date.now() > until;
      tell("bad", `Stop has not reached the daemon: ${error.message}.`, `${byHand}${tired ? "" : " Trying again."}`);
      if (tired) break;
      await new Promise((done) => setTimeout(done, kEveryMs));
    }
  }
  button.classList.remove("pressed");
  busy = false;
}

export function begin() {
  document.getElementById("stop").addEventListener("click", stopAll);
  // In the capture phase, so that no field, menu or plot can keep the key for itself.
  addEventListener("keydown", (event) => {
    if (event.key !== kKey) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (!event.repeat) stopAll();
  }, true);
}
