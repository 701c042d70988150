// Form fields with their labels.

import { h } from "../dom.js";

/** A choice; `value` is offered even when it is none of the options (an old address may name it). */
export function select({ name, label, options, word = (o) => o, value = "", onchange, hint }) {
  const all = options.includes(value) ? options : [...options, value];
  const field = h("select", { name, id: `field-${name}`, onchange }, all.map((o) => h("option", { value: o }, word(o))));
  field.value = value;
  return h("div", { class: "field" }, h("label", { for: `field-${name}` }, label), field, hint ? h("span", { class: "hint" }, hint) : null);
}

export function text({ name, label, hint, ...rest }) {
  const id = `field-${name}`;
  return h("div", { class: "field" }, h("label", { for: id }, label), h("input", { type: "text", name, id, autocomplete: "off", "aria-describedby": hint ? `${id}-hint` : null, ...rest }),
    hint ? h("span", { class: "hint", id: `${id}-hint` }, hint) : null);
}
