// Tables that become blocks on a phone. Up, down, Home and End move between the rows' links.

import { h } from "../dom.js";

/** columns: [{ head, kind }], kind "num", "whole" or "wide"; rows: [[cell, ...]], the first cell heads its row. */
export function table(caption, columns, rows) {
  const head = columns.map(({ head: text, kind }) => h("th", { role: "columnheader", scope: "col", class: kind }, text));
  const body = rows.map((cells) => h("tr", { role: "row" }, cells.map((cell, i) => {
    const { head: label, kind } = columns[i];
    const empty = cell === null || cell === "" || cell === undefined;
    if (i === 0) return h("th", { role: "rowheader", scope: "row", class: kind }, cell);
    return h("td", { role: "cell", class: [kind, empty && "empty"].filter(Boolean).join(" ") || null, "data-label": label }, h("div", {}, cell));
  })));
  return h("table", { role: "table", onkeydown: walk },
    h("caption", {}, caption),
    h("thead", { role: "rowgroup" }, h("tr", { role: "row" }, head)),
    h("tbody", { role: "rowgroup" }, body));
}

function walk(event) {
  if (event.altKey || event.ctrlKey || event.metaKey || !event.target.matches("tbody th a")) return;
  const links = [...event.currentTarget.querySelectorAll("tbody th a")];
  const at = links.indexOf(event.target);
  const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: links.length - 1 }[event.key];
  if (to === undefined || !links[to]) return;
  event.preventDefault();
  links[to].focus();
}
