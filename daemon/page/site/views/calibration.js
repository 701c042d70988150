// What is known of each bench board's own errors.

import { get } from "../api.js";
import { h } from "../dom.js";
import { keep } from "../parts/keep.js";
import { title } from "../parts/title.js";
import { badge } from "../parts/verdict.js";
import { distance, exactly } from "../words.js";

const kStates = { valid: ["pass", "Valid"], old: ["inconclusive", "Too old"], foreign: ["fail", "Of another board"] };

function card(b) {
  const c = b.calibration;
  const [kind, word] = c ? kStates[c.state] ?? ["none", c.state] : ["none", "None"];
  const fact = (name, value) => h("div", {}, h("dt", {}, name), h("dd", {}, value));
  const at = (iso) => (Number.isNaN(Date.parse(iso)) ? iso || "not said" : h("time", { datetime: iso }, exactly(iso)));
  const facts = c ? [fact("Board calibrated", c.board || "not named"), fact("Board on the bench", b.board || "not greeted yet"), fact("Measured", at(c.date)),
    fact("Valid until", Number.isNaN(Date.parse(c.valid_until)) ? c.valid_until || "not said" : [at(c.valid_until), ` (${distance(c.valid_until)})`])] : [fact("Board on the bench", b.board || "not greeted yet")];
  const means = !c ? "Stamps are used as the board gives them, and uncertainties rest on the board's stated bounds, which are wider."
    : c.state === "valid" ? "Stamps are corrected by it, and uncertainties are the measured ones." : "It is not used: stamps are as the board gives them, and uncertainties rest on the board's stated bounds.";
  return h("section", { class: "card", "aria-label": b.name }, h("h2", {}, b.name), h("p", {}, badge(kind, word)), h("p", {}, means), c?.detail ? h("p", { class: "note" }, c.detail) : null,
    h("dl", { class: "facts" }, facts), how(b));
}

/** The port as calibrate takes it; the daemon's usb: address is known there by the link that the package's device rule makes. */
const port = (address) => address.replace(/^usb:/, "serial:/dev/midstick/");

function how(b) {
  if (b.virtual) return h("p", { class: "note" }, "Its board is a program and has no errors of its own to calibrate.");
  return h("details", {}, h("summary", {}, b.calibration ? "Calibrate it again" : "Calibrate it"),
    h("p", { class: "note" }, "With jumpers on the board and no controller connected, on the bench's computer, while the daemon does not hold the bench:"),
    h("pre", { tabindex: "0" }, `midstick calibrate --bench ${port(b.address)}`),
    b.address.startsWith("usb:") ? h("p", { class: "note" }, "Where there is no /dev/midstick, ", h("code", {}, "ls -l /dev/serial/by-id"), " shows the port, to be given as ", h("code", {}, "serial:PORT"), ".") : null);
}

export function open(main) {
  const box = h("div", { class: "cards" });
  main.append(title("Calibration", h("p", { class: "note" }, "Each bench board's own errors, as they were last measured")), box);
  return keep(box, ["benches"], (signal) => get("benches", {}, signal), (list) => (list.length ? list.map(card) : h("p", { class: "empty-note" }, "No bench is configured."))).close;
}
