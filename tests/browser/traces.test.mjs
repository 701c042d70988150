// What the plots are made of: columns with breaks, numbers on axes, labels that keep off each other.
import test from "node:test";
import assert from "node:assert/strict";

process.env.TZ = "Europe/Berlin";
const { allowance, columns, decimals, gaps, placed, timeMarks, within } = await import("../../daemon/page/site/parts/traces.js");

test("a line breaks where it is silent and not where thinned points lie far apart", () => {
  const pulses = [[0, 1500], [900, 1510], [2000, 1490], [5000, 1500]];
  assert.deepEqual(columns(pulses, [], 1), [[0, 900, 2000, 5000], [1500, 1510, 1490, 1500]]);
  // The last pulse before the silence is one that thinning left out.
  assert.deepEqual(columns(pulses, [[2600, 4400]], 1), [[0, 900, 2000, 2600.001, 5000], [1500, 1510, 1490, null, 1500]]);
  assert.deepEqual(columns([[300, 1500]], [[0, 300], [300, 900]], 1), [[300], [1500]], "nothing to break before the first and after the last");
  assert.deepEqual(columns([[0, 1490, 1510], [500, 1490, 1510]], gaps([[0, 1490, 1510], [500, 1490, 1510]]), 2), [[0, 0.001, 500], [1490, null, 1490], [1510, null, 1510]]);
});

test("the band is called by what it holds", () => {
  const of = (...all) => allowance(all.map((tolerance_us) => ({ tolerance_us })));
  assert.equal(of(10), "allowed by the mixer spec and the check's \u00b110 µs");
  assert.equal(of(10, 15, 10), "allowed by the mixer spec and the check's \u00b110 to 15 µs");
  assert.equal(of(0), "allowed by the mixer spec");
  assert.equal(of(10, null), "nominal by the mixer spec");
  assert.equal(of(), "nominal by the mixer spec");
});

test("an instant lies within a stretch up to its very ends", () => {
  const spans = [[10, 20], [30, 30.5]];
  assert.deepEqual([9.9, 10, 20, 25, 30.2, 31].map((ms) => within(spans, ms)), [false, true, true, false, true, false]);
});

test("marks of an axis have the digits of their step", () => {
  assert.deepEqual([1, 0.5, 0.25, 0.1, 0.05, 0.025, 10, 2.5].map(decimals), [0, 1, 2, 1, 2, 3, 0, 1]);
});

test("marks of a time axis are told apart over days and within a minute", () => {
  const at = (iso) => Date.parse(iso) / 1000;
  assert.deepEqual(timeMarks(["2026-11-24T12:00+01:00", "2026-11-25T00:00+01:00", "2026-11-25T12:00+01:00", "2026-11-26T00:00+01:00"].map(at), 43_200),
    ["12:00\n24 Nov", "00:00\n25 Nov", "12:00", "00:00\n26 Nov"]);
  assert.deepEqual(timeMarks(["2026-11-24T12:00:00+01:00", "2026-11-24T12:00:15+01:00"].map(at), 15), ["12:00:00\n24 Nov", "12:00:15"]);
  assert.deepEqual(timeMarks(["2026-11-24T00:00+01:00", "2026-11-26T00:00+01:00"].map(at), 172_800), ["24 Nov", "26 Nov"]);
});

test("labels take another row, or are left out, before they print over each other", () => {
  const at = (...xs) => placed(xs.map((x) => ({ x, width: 40 })), [0, 2], 5, 0, 200);
  assert.deepEqual(at(10, 100), [{ row: 0, left: false }, { row: 0, left: false }]);
  assert.deepEqual(at(10, 20, 30, 70), [{ row: 0, left: false }, { row: 2, left: false }, null, { row: 0, left: false }]);
  assert.deepEqual(at(180), [{ row: 0, left: true }], "at the right edge it stands left of its mark");
  assert.deepEqual(at(100, 180, 190), [{ row: 0, left: false }, { row: 2, left: true }, null]);
});
