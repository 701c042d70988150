// One HTTP request, with nothing put right on the way: paths and headers go out as they are given.
import { request } from "node:http";

const kLimitMs = 20000;

/**
 * `to`: { socketPath } or { port, localAddress }. `json`: sent as such; `body`: sent as it is. Gives { status, type, headers, text, body }, with
 * `body` parsed where the answer is JSON.
 */
export function ask(to, method, path, { json, body, headers = {} } = {}) {
  const text = json === undefined ? body : JSON.stringify(json);
  const type = text === undefined ? {} : { "Content-Type": "application/json", "Content-Length": Buffer.byteLength(text) };
  return new Promise((done, failed) => {
    const call = request({ host: "127.0.0.1", ...to, method, path, headers: { ...type, ...headers }, agent: false, timeout: kLimitMs });
    call.on("timeout", () => call.destroy(new Error(`${method} ${path}: no answer in ${kLimitMs / 1000} s`)));
    call.on("error", failed);
    call.on("upgrade", (answer, socket) => (socket.destroy(), done({ status: answer.statusCode, type: "", headers: answer.headers, text: "" })));
    call.on("response", async (answer) => {
      try {
        const parts = [];
        for await (const part of answer) parts.push(part);
        const got = Buffer.concat(parts).toString("utf8"), kind = (answer.headers["content-type"] ?? "").split(";")[0];
        const parsed = kind.endsWith("json") && got ? JSON.parse(got) : undefined;
        done({ status: answer.statusCode, type: kind, headers: answer.headers, text: got, body: parsed });
      } catch (error) {
        failed(error);
      }
    });
    call.end(text);
  });
}
