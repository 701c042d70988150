// One test's stage: a stub, a browser, and the tabs opened on it. Whatever the test was about, the page must have written no error, asked
// nobody else, and been answered by the contract.
import assert from "node:assert/strict";
import { launch, visit } from "./browser.mjs";
import { Stub } from "./stub/server.mjs";

let browser = null;

/** Closes the one browser that all tests of a file share: after(closeBrowser). */
export const closeBrowser = async () => browser?.close();

/** stage({ stub options }, async ({ stub, url, visit }) => ...); visit(route, options) gives the tab's page. */
export async function stage(options, act) {
  browser ??= await launch();
  const stub = new Stub(options), url = await stub.open(), visits = [];
  try {
    await act({
      stub, url,
      visit: async (route = "", how = {}) => {
        visits.push(await visit(browser, url + route, how));
        return visits.at(-1).page;
      },
    });
    for (const { leave } of visits) await leave();
    assert.deepEqual(stub.faults.map(String), [], "the stub answered by the contract");
  } finally {
    for (const { page } of visits) await page.context().close().catch(() => {});
    await stub.close().catch(() => {});
  }
}

/** A stub's world with a run on the virtual bench and a job that waits for it. */
export function playing(stub) {
  stub.world.submit({ plan: "bank mower, nightly", build: "rev C", bench: "virtual bench" });
  stub.dispatch();
  stub.world.submit({ plan: "soak", build: "rev C", bench: "virtual bench", priority: 5 });
  stub.changed("jobs");
}
