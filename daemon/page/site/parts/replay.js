// A button that plays a run, or one check's script, again. Before a real bench it shows the cautions and asks.

import { post } from "../api.js";
import { h } from "../dom.js";
import { state } from "../state.js";
import { ask, mayPower } from "./caution.js";
import { say } from "./say.js";

/** One for a view: what has been answered outlives the redrawing of what stands around it. */
export function replay() {
  let box = null;
  const send = async (run, check, result) => {
    try {
      const job = await post(`runs/${run.id}/replay`, undefined, { check });
      result.className = "result";
      result.replaceChildren(`Job ${job.id} is submitted. `, h("a", { href: `#/bench/${encodeURIComponent(job.bench || run.bench)}` }, "Watch the bench"));
      say(`Job ${job.id} is submitted.`);
    } catch (error) {
      result.className = "refusal";
      result.replaceChildren(`Not submitted: ${error.message}`);
      say(`Not submitted: ${error.message}`, true);
    }
  };
  const build = ({ run, check, label }) => {
    const caution = ask("replay-safe"), result = h("p", { class: "result" });
    caution.element.hidden = true;
    const button = h("button", { type: "button", class: "main", id: "replay", onclick: async () => {
      if (caution.element.hidden && mayPower(state.benches, run.bench)) {
        caution.element.hidden = false;
        button.textContent = `${label} now`;
        caution.element.querySelector("input").focus();
        return;
      }
      if (!caution.kept()) return;
      button.disabled = true;
      await send(run, check, result);
      caution.clear();
      caution.element.hidden = true;
      button.textContent = label;
      button.disabled = false;
    } }, label);
    return h("div", { class: "replay" }, caution.element, h("div", { class: "row" }, button), result);
  };
  return { element: (what) => (box ??= build(what)) };
}
