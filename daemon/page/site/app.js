// Ties the frame together and opens the view that the address names: #/runs/7/check/limits?from=0.

import { h } from "./dom.js";
import * as link from "./link.js";
import * as alarms from "./parts/alarms.js";
import * as rail from "./parts/rail.js";
import * as stop from "./stop.js";
import * as bench from "./views/bench.js";
import * as calibration from "./views/calibration.js";
import * as check from "./views/check.js";
import * as plans from "./views/plans.js";
import * as run from "./views/run.js";
import * as runs from "./views/runs.js";
import * as tonight from "./views/tonight.js";
import * as trend from "./views/trend.js";

// Each view: open(main, route) fills `main` and gives what ends it. route: { parts: [decoded], query: URLSearchParams }.
const kRoutes = [
  [/^\/(?:tonight)?$/, "tonight", tonight],
  [/^\/bench(?:\/([^/]+))?$/, "bench", bench],
  [/^\/runs$/, "runs", runs],
  [/^\/runs\/(\d+)$/, "runs", run],
  [/^\/runs\/(\d+)\/check\/([^/]+)$/, "runs", check],
  [/^\/trend$/, "trend", trend],
  [/^\/calibration$/, "calibration", calibration],
  [/^\/plans$/, "plans", plans],
];

const nowhere = {
  open(main) {
    main.append(h("div", { class: "title" }, h("h1", { tabindex: "-1" }, "No such view")), h("p", {}, h("a", { href: "#/tonight" }, "Tonight")));
    return () => {};
  },
};

let close = () => {}, path = null;

function open() {
  const [next, query = ""] = (location.hash.slice(1) || "/tonight").split("?");
  const found = kRoutes.map(([pattern, name, view]) => ({ match: pattern.exec(next), name, view })).find(({ match }) => match);
  const main = document.getElementById("main");
  close();
  main.replaceChildren();
  rail.mark(found?.name);
  const parts = (found?.match.slice(1) ?? []).map((part) => (part === undefined ? undefined : decodeURIComponent(part)));
  close = (found?.view ?? nowhere).open(main, { parts, query: new URLSearchParams(query) });
  const heading = main.querySelector("h1");
  document.title = `${heading.textContent} \u2013 Midstick`;
  // A new view begins at its heading, for eyes and for a screen reader; another filter of the same view leaves the focus where it is.
  if (path !== null && path !== next) {
    heading.focus({ preventScroll: true });
    scrollTo(0, 0);
  }
  path = next;
}

document.querySelector(".skip").addEventListener("click", (event) => {
  event.preventDefault();
  document.getElementById("main").focus();
});
stop.begin();
alarms.begin();
rail.begin();
addEventListener("hashchange", open);
open();
link.begin();
