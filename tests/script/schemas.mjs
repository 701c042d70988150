// The four published schemas as ajv compiles them, strictly, and JSON with comments.
import Ajv from "ajv";
import { readFileSync } from "node:fs";
import { join } from "node:path";

export const kinds = ["controller", "mixer", "sticks", "plan"];

/** Validators by the file's "format". Throws when a schema itself is not sound draft-07. */
export function validators(folder) {
  const ajv = new Ajv({ strict: true, allErrors: false });
  const out = new Map();
  for (const kind of kinds) {
    const schema = JSON.parse(readFileSync(join(folder, `${kind}.schema.json`), "utf8"));
    out.set(`midstick ${kind} 1`, ajv.compile(schema));
  }
  return out;
}

/** Text without its comments; strings are left alone. Throws where a comment does not end. */
export function withoutComments(text) {
  return text.replace(/"(?:[^"\\\n]|\\.)*"|\/\/[^\n]*|\/\*[^]*?\*\//g, (found) => (found[0] === "/" ? " " : found));
}

/** Does this text fit the schema that its "format" names? */
export function fits(text, validate) {
  let value;
  try {
    value = JSON.parse(withoutComments(text));
  } catch {
    return false;
  }
  const validator = value !== null && typeof value === "object" && validate.get(value.format);
  return validator ? validator(value) : false;
}
