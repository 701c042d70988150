// The frame's own parts: the views, theme and zone in the rail, the state in the bar, the menu on a phone.

import { closeSession, token } from "../api.js";
import { h, show } from "../dom.js";
import { news, state } from "../state.js";
import { offset, zone } from "../words.js";

const kViews = [["tonight", "Tonight"], ["bench", "Bench"], ["runs", "Runs"], ["trend", "Trend"], ["calibration", "Calibration"], ["plans", "Plans"]];

const themes = () => h("fieldset", { class: "themes" }, h("legend", {}, "Appearance"),
  h("div", {}, [["system", "Auto"], ["light", "Light"], ["dark", "Dark"]].map(([theme, word]) => h("label", {},
    h("input", { type: "radio", name: "theme", value: theme, checked: midstickTheme.chosen() === theme, onchange: () => midstickTheme.choose(theme) }), word))));

function lamp() {
  const [kind, word] = state.link === "lost" ? ["lost", "No connection"] : state.link === "asking" ? ["lost", "Token needed"]
    : state.health === null ? ["degraded", "Connecting"] : state.link === "deaf" ? ["degraded", "No live messages"]
    : state.health.state === "ready" ? ["ready", "Daemon ready"] : ["degraded", "Degraded"];
  return h("span", { class: `lamp ${kind}` }, h("i", {}), word);
}

function drawState() {
  const part = (n, word) => h("span", { class: word }, h("strong", {}, n), ` ${word}`);
  const health = state.link === "asking" ? null : state.health;
  const parts = health ? [part(health.benches.running, "running"), part(health.benches.ready, "ready"),
    health.benches.held ? part(health.benches.held, "held") : null, health.benches.missing ? part(health.benches.missing, "missing") : null, health.queued ? part(health.queued, "queued") : null] : [];
  show(document.getElementById("state"), [lamp(), ...parts], state.link + JSON.stringify(health && [health.state, health.benches, health.queued]));
}

export function begin() {
  const rail = document.getElementById("rail"), menu = document.getElementById("menu");
  const forget = h("button", { type: "button", class: "plain", onclick: () => closeSession().then(() => (token.set(""), location.reload())) }, "Forget the token");
  rail.append(
    h("ul", {}, kViews.map(([name, word]) => h("li", {}, h("a", { href: `#/${name}`, "data-view": name }, word)))),
    h("div", { class: "foot" }, themes(), h("p", {}, `Times are ${zone} (${offset()})`), h("p", { id: "version" }), token.get() ? forget : null));
  const open = (yes) => {
    rail.classList.toggle("open", yes);
    menu.setAttribute("aria-expanded", String(yes));
    menu.textContent = yes ? "Close" : "Menu";
  };
  menu.addEventListener("click", () => {
    open(!rail.classList.contains("open"));
    if (rail.classList.contains("open")) rail.querySelector("a").focus();
  });
  rail.addEventListener("click", (event) => event.target.matches("a") && open(false));
  rail.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && rail.classList.contains("open")) open(false), menu.focus();
  });
  news.on("link", drawState);
  news.on("health", () => {
    drawState();
    document.getElementById("version").textContent = `midstickd ${state.health.version}`;
  });
  drawState();
}

export function mark(view) {
  for (const link of document.querySelectorAll("#rail a[data-view]")) {
    if (link.dataset.view === view) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}
