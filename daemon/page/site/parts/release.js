// Lets a held bench go on. Its stop loop opened during a run, so somebody or something wanted everything still: before jobs begin there
// again the cautions are shown and asked.

import { post } from "../api.js";
import { h } from "../dom.js";
import { ask } from "./caution.js";
import { say } from "./say.js";

const kWords = {
  legend: "Jobs that wait begin at once when this bench is released",
  list: ["Find out first why the stop loop opened: somebody opened it, or a wire broke. Mend it and close it.",
    "See that nobody is near the machine, and that its tracks are off the ground or its motors disconnected.",
    "Tell everybody at the bench that it may start now."],
  tick: "The reason is found, nobody is near the machine, tracks off the ground or motors disconnected",
};

/** One for a view; `bench()` names its bench. `look(state)`: it is there while the bench is held. */
export function release(bench) {
  const caution = ask("release-safe", kWords), result = h("p", { class: "told" });
  caution.element.hidden = true;
  const reset = () => {
    caution.clear();
    caution.element.hidden = true;
    button.textContent = "Release this bench";
  };
  const button = h("button", { type: "button", onclick: async () => {
    if (caution.element.hidden) {
      caution.element.hidden = false;
      button.textContent = "Release this bench now";
      caution.element.querySelector("input").focus();
      return;
    }
    if (!caution.kept()) return;
    button.disabled = true;
    try {
      await post(`benches/${encodeURIComponent(bench())}/release`);
      result.className = "result";
      result.textContent = `${bench()} is released: what waits for it begins.`;
    } catch (error) {
      result.className = "refusal";
      result.textContent = `Not released: ${error.message}`;
    }
    say(result.textContent, true);
    button.disabled = false;
    reset();
  } }, "Release this bench");
  const asking = h("div", { class: "replay release" }, caution.element, h("div", { class: "row" }, button));
  return {
    element: h("div", {}, asking, result),
    look(state) {
      if (state === "held" && asking.hidden) result.className = "told", (result.textContent = "");
      if (state !== "held" && !asking.hidden) reset();
      asking.hidden = state !== "held";
    },
  };
}
