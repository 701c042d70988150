// The head of a view. Its h1 takes the focus when the view is opened.

import { h } from "../dom.js";

export const title = (text, ...beside) => h("div", { class: "title" }, h("h1", { tabindex: "-1" }, text), beside, h("i", { class: "ruler" }));
