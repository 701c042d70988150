// Requests to the daemon. Addresses are relative to the page's own, so it works behind any prefix.
// What fails is thrown: Problem (the daemon answered, RFC 9457) or Lost (it did not).

import { news } from "./state.js";

const root = new URL("api/1/", document.baseURI);
const kPatienceMs = 8000;

export class Problem extends Error {
  constructor(status, body) {
    super(body.detail || body.title || `the daemon answered ${status}`);
    this.status = status;
    this.title = body.title ?? "";
    /** [{ pointer, detail }]: which part of the request was wrong. */
    this.errors = body.errors ?? [];
  }
}

export class Lost extends Error {}

export const token = {
  get: () => sessionStorage.getItem("midstick-token") ?? "",
  set: (value) => (value ? sessionStorage.setItem("midstick-token", value) : sessionStorage.removeItem("midstick-token")),
};

/** "runs/7/checks" with { limit: 5, verdict: "" } and so on; what is empty is left out. */
export function address(path, query = {}) {
  const url = new URL(path, root);
  for (const [name, value] of Object.entries(query)) if (value !== "" && value !== null && value !== undefined) url.searchParams.set(name, value);
  return url;
}

async function ask(method, path, { query, body, signal, patience = kPatienceMs } = {}) {
  const headers = {};
  if (token.get()) headers.Authorization = `Bearer ${token.get()}`;
  if (body !== undefined) headers["Content-Type"] = "application/json";
  const limits = [AbortSignal.timeout(patience), ...(signal ? [signal] : [])];
  let answer;
  try {
    answer = await fetch(address(path, query), {
      method, headers, body: body === undefined ? undefined : JSON.stringify(body), signal: AbortSignal.any(limits), cache: "no-cache",
    });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Lost(error.name === "TimeoutError" ? "the daemon does not answer" : "the daemon cannot be reached");
  }
  if (answer.ok) return answer;
  const problem = new Problem(answer.status, await answer.json().catch(() => ({})));
  if (answer.status === 401) news.tell("token", problem);
  throw problem;
}

export const get = async (path, query, signal, patience) => (await ask("GET", path, { query, signal, patience })).json();
export const post = async (path, body, query, patience) => (await ask("POST", path, { body, query, patience })).json();

/** Keeps a file of the daemon's on the reader's disk. With a token a plain link cannot do that: it would not carry the token. */
export async function save(path, name) {
  const blob = await (await ask("GET", path, { patience: 60_000 })).blob();
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
