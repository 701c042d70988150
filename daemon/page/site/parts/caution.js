// The cautions, word for word those of daemon/report/caution.hpp (a test compares them).

import { h } from "../dom.js";

export const cautions = [
  "Disconnect the motors, or raise the tracks clear of the ground, before a controller is powered. Motors break bones.",
  "Feed the controller from a fused supply with a current limit, within reach of a switch that cuts it without software.",
  "Wire the stop loop and try it before the first run. It is normally closed: a cut wire stops the bench.",
  "Never join the 5 V feed of a speed controller to the bench's or the computer's 5 V. Join only signal and ground.",
  "A pass says that the pulses were right on this bench. It does not say that the machine is safe.",
  "Whoever powers the machine is responsible for it. Keep people and animals away from it.",
  "Local rules, the maker's instructions and a qualified person's word come before anything written here.",
];

const kPower = { legend: "This may power a real controller", list: cautions, tick: "Motors disconnected or tracks off the ground, and somebody at the stop loop" };

/**
 * Asked before a real controller is powered, or with `words` of another reason. `kept()`: has it been ticked; when not it says so beside
 * the box and takes the focus there.
 */
export function ask(id, words = kPower) {
  const box = h("input", { type: "checkbox", id, onchange: () => (wrong.textContent = ""), "aria-describedby": `${id}-wrong` });
  const wrong = h("p", { class: "wrong", id: `${id}-wrong` });
  const element = h("fieldset", { class: "caution" },
    h("legend", {}, words.legend),
    h("ul", {}, words.list.map((text) => h("li", {}, text))),
    h("label", { class: "tick", for: id }, box, ` ${words.tick}`),
    wrong);
  const kept = () => {
    if (element.hidden || box.checked) return true;
    wrong.textContent = "Tick this first, once it is so.";
    box.focus();
    return false;
  };
  return { element, kept, clear: () => (box.checked = false) };
}

/** May a job for this bench ("": any with the labels) power something real? A bench nobody knows counts as real. */
export function mayPower(benches, name, labels = []) {
  const fit = name ? benches.filter((b) => b.name === name) : benches.filter((b) => labels.every((l) => b.labels.includes(l)));
  return fit.length === 0 || fit.some((b) => !b.virtual);
}
