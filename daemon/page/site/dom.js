// Builds elements. Text is only ever set as text, so nothing a controller or a file is called can become markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, properties, children) {
  for (const [name, value] of Object.entries(properties ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false && child !== ""));
  return element;
}

/** h("p", { class: "note" }, "text", child). Properties that begin with "on" are listeners; false, null and undefined leave one out. */
export const h = (tag, properties, ...children) => fill(document.createElement(tag), properties, children);

export const svg = (tag, properties, ...children) => fill(document.createElementNS(SVG, tag), properties, children);

/**
 * Replaces what is in `box` by `children`, or by what they give if they are a function. Focus stays where it was: on the element with the
 * same data-key, or the same id. Does nothing when `stamp` is given and is the one of the last call, so that a reader is not disturbed by
 * news that is none. Where an element is used again in every drawing it must be a function: made in vain, a drawing takes it out of the box.
 */
export function show(box, children, stamp) {
  if (stamp !== undefined && box.dataset.stamp === stamp) return;
  if (stamp !== undefined) box.dataset.stamp = stamp;
  if (typeof children === "function") children = children();
  const active = box.contains(document.activeElement) ? document.activeElement : null;
  const key = active?.dataset.key, id = active?.id;
  box.replaceChildren(...[children].flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false && child !== ""));
  if (!active) return;
  const again = key ? [...box.querySelectorAll("[data-key]")].find((e) => e.dataset.key === key) : id ? document.getElementById(id) : null;
  again?.focus({ preventScroll: true });
}
