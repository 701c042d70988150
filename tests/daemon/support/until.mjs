// Waits for something to become true, with a time limit; never for time to pass.
const kLookMs = 25;

/** Between two looks. */
export const pace = () => new Promise((done) => setTimeout(done, kLookMs));

/** What `probe` gives as soon as that is something; throws `what` when it does not within `limit` ms. `more`: told beside. */
export async function until(what, probe, limit, more = () => "") {
  const end = Date.now() + limit;
  for (;;) {
    const found = await probe();
    if (found) return found;
    if (Date.now() >= end) throw new Error(`not within ${limit / 1000} s: ${what}${more()}`);
    await pace();
  }
}
