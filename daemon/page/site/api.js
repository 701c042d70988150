// Requests to the daemon. Addresses are relative to the page's own, so it works behind any prefix.
// What fails is thrown: Problem (the daemon answered, RFC 9457) or Lost (it did not).

import { news } from "./state.js";
import { forTab } from "./storage.js";

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
  get: () => forTab.get("midstick-token") ?? "",
  /** Is it kept? */
  set: (value) => forTab.set("midstick-token", value || null),
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

/**
 * A WebSocket and a download link carry no header of their own. So the token is given once for a cookie that only the browser sees, and again
 * whenever the connection is made anew, for the daemon forgets sessions. Without a token there is nothing to do.
 */
export async function openSession() {
  if (!token.get()) return;
  await ask("POST", "session", { patience: 4000 }).catch((error) => {
    // Where no token is asked for there may be no sessions either.
    if (!(error instanceof Problem) || error.status === 401) throw error;
  });
}
export const closeSession = async () => ask("DELETE", "session").catch(() => {});
