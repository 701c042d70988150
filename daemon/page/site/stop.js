// The Stop button and its key. It asks nothing and works on every view, in every field. A Stop that does not get through is kept, over a
// reload of the page too, and tried until the daemon has answered it or a person gives it up: a daemon that comes back may take its job
// back and power the bench, long after somebody pressed Stop. All that time the box says that nothing has been stopped yet.

import { Problem, post } from "./api.js";
import { say } from "./parts/say.js";
import { news } from "./state.js";
import { forTab } from "./storage.js";
import { count, second, took } from "./words.js";
import { h, show } from "./dom.js";

const kKey = "F9", kKept = "midstick-stop";
const kEveryMs = 500, kPatienceMs = 3000, kShownMs = 12_000;
export const byHand = "Open the stop loop, or switch off the supply, by hand now.";

let pressed = null; ///< when the Stop was pressed that has not been answered yet; null: there is none
let wake = () => {}, told = 0;

const box = () => document.getElementById("stopped");

function tell(kind, first, rest, button = ["Close", hide]) {
  const text = `${first} ${rest}`, element = box(), known = element.dataset.stamp === text;
  element.className = `alarm ${kind}`;
  show(element, [h("p", {}, h("strong", {}, first), " ", rest), h("button", { type: "button", class: "plain", "data-key": button[0], onclick: button[1] }, button[0])], text);
  if (!known) say(text, true);
  return ++told;
}

function hide() {
  box().className = "off";
  delete box().dataset.stamp;
}

function keep(at) {
  pressed = at;
  forTab.set(kKept, at ? at.toISOString() : null);
  document.getElementById("stop").classList.toggle("pressed", at !== null);
}

function giveUp() {
  tell("bad", `The Stop of ${second(pressed)} is given up and will not be sent.`, `This page has stopped nothing. ${byHand}`);
  keep(null);
}

/** The daemon told every bench to stop, but its store is away: that is no refusal. */
const withoutStore = (error) => error instanceof Problem && error.status === 503 && error.message.startsWith("Every bench was told to stop");

/** Asking again would be answered the same. Anything else (no answer, a proxy's 502, a daemon that has too much to do) is tried again. */
const refused = (error) => error instanceof Problem && error.status >= 400 && error.status < 500 && error.status !== 429;

function delivered(at, late, benches, rest) {
  const now = new Date();
  const first = late ? `Stop reached the daemon at ${second(now)}, ${took(now - at)} after you pressed` : "Stop sent";
  const mine = tell("done", `${first}${benches}`, rest);
  // Who pressed Stop may have gone to the bench by hand meanwhile: what came late stays until it is read.
  if (!late) setTimeout(() => mine === told && hide(), kShownMs);
}

/** One attempt to deliver the Stop that was pressed at that time. Is it over? */
async function attempt(at, late) {
  try {
    const { benches, cancelled } = await post("stop", undefined, {}, kPatienceMs);
    delivered(at, late, `: ${benches.length ? benches.join(", ") : "no bench was running"}.`, cancelled ? `${count(cancelled, "queued job")} cancelled.` : "Nothing was queued.");
  } catch (error) {
    if (withoutStore(error)) delivered(at, late, ".", error.message);
    else if (pressed !== at) return true; // given up while it was on its way
    else if (refused(error)) tell("bad", `Stop was refused: ${error.message}.`, byHand);
    else {
      tell("bad", `Stop has not reached the daemon: ${error.message}. Nothing has been stopped yet.`,
        `${byHand} Pressed at ${second(at)}; it is tried again until it gets through.`, ["Give this Stop up: do not send it later", giveUp]);
      return false;
    }
  }
  return true;
}

async function deliver(at, late) {
  keep(at);
  while (pressed === at && !(await attempt(at, late))) {
    late = true;
    await new Promise((done) => {
      wake = done;
      setTimeout(done, kEveryMs);
    });
  }
  if (pressed === at) keep(null);
}

export function stopAll() {
  if (pressed) return wake();
  delete box().dataset.stamp; // the same answer as last time is an answer to this press too, and is said
  deliver(new Date(), false);
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
  // The daemon is back: at once, for the timers of a page in the background run late.
  for (const topic of ["health", "link"]) news.on(topic, () => wake());
  const kept = forTab.get(kKept);
  if (kept) deliver(new Date(kept), true);
}
