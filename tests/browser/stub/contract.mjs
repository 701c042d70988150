// Holds the stub to the daemon's contract: every answer it gives is checked against daemon/service/openapi.json, so that what passes
// against the stub is what a real daemon may say.
import Ajv from "ajv";
import formats from "ajv-formats";
import { readFileSync } from "node:fs";

const contract = JSON.parse(readFileSync(new URL("../../../daemon/service/openapi.json", import.meta.url), "utf8"));

/** OpenAPI 3.0 says "nullable" beside the type, which JSON Schema does not know. */
function plain(node) {
  if (Array.isArray(node)) return node.map(plain);
  if (node === null || typeof node !== "object") return node;
  const { nullable, ...rest } = node;
  const mended = Object.fromEntries(Object.entries(rest).map(([key, value]) => [key, plain(value)]));
  return nullable === true ? { anyOf: [mended, { type: "null" }] } : mended;
}

const ajv = new Ajv({ strict: false, allErrors: true });
formats(ajv);
ajv.addSchema({ ...plain(contract), $id: "contract" });

const compiled = new Map();
function validator(pointer) {
  if (!compiled.has(pointer)) compiled.set(pointer, ajv.compile({ $ref: `contract#${pointer}` }));
  return compiled.get(pointer);
}

export function hold(pointer, value) {
  const valid = validator(pointer);
  if (!valid(value)) throw new Error(`not by the contract (${pointer}): ${ajv.errorsText(valid.errors)}\n${JSON.stringify(value).slice(0, 400)}`);
}

const escaped = (text) => text.replaceAll("~", "~0").replaceAll("/", "~1");
const routes = Object.entries(contract.paths).map(([path, methods]) => ({ path, methods, pattern: new RegExp(`^${path.replace(/\{\w+\}/g, "([^/]+)")}$`) }));

/** The operation of a request: { id, path, method, parts }, or nothing. */
export function operation(method, pathname) {
  for (const { path, methods, pattern } of routes) {
    const match = pattern.exec(pathname);
    const op = match && methods[method.toLowerCase()];
    if (op) return { id: op.operationId, path, method: method.toLowerCase(), parts: match.slice(1).map(decodeURIComponent) };
  }
  return null;
}

/** Throws unless `body` is what the contract says of this answer. */
export function holdAnswer({ path, method }, status, body) {
  const answer = contract.paths[path][method].responses[status];
  if (!answer) throw new Error(`${method} ${path} answers ${status}, which the contract does not know`);
  const [type, content] = Object.entries(answer.content ?? {})[0] ?? [];
  if (!content?.schema) return;
  hold(`/paths/${escaped(path)}/${method}/responses/${status}/content/${escaped(type)}/schema`, body);
}

export const holdMessage = (message) => hold(`/components/schemas/${message.type[0].toUpperCase()}${message.type.slice(1)}`, message);
export const holdRequest = (body) => validator("/components/schemas/JobRequest")(body);

/** How this contract writes the verdict of a check that was left out. */
export const notRun = contract.components.schemas.Check.properties.verdict.enum.find((v) => v.startsWith("not"));
