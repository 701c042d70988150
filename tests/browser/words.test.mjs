// Numbers, times and sizes as the page writes them.
import test from "node:test";
import assert from "node:assert/strict";

process.env.TZ = "Europe/Berlin";
const { bytes, count, distance, exactly, limits, micro, number, offset, quantity, took, when } = await import("../../daemon/page/site/words.js");

test("times are the reader's local ones and say their zone, in summer and in winter", () => {
  assert.equal(exactly("2026-07-01T10:00:05.000Z"), "2026-07-01 12:00:05 UTC+2");
  assert.equal(exactly("2026-11-25T10:00:05.000Z"), "2026-11-25 11:00:05 UTC+1");
  assert.equal(offset(new Date("2026-01-01T00:00:00Z")), "UTC+1");
});

test("days near now are named, by the local date and over a clock change", () => {
  const now = new Date("2026-10-25T12:00:00Z"); // the clocks went back this night
  assert.equal(when("2026-10-25T00:30:00Z", now), "today 02:30");
  assert.equal(when("2026-10-25T01:30:00Z", now), "today 02:30");
  assert.equal(when("2026-10-24T21:59:00Z", now), "yesterday 23:59");
  assert.equal(when("2026-10-26T01:30:00Z", now), "tomorrow 02:30");
  assert.equal(when("2026-10-27T01:30:00Z", now), "2026-10-27 02:30");
  assert.equal(when("last night", now), "last night", "what is no time stays as it is");
  assert.equal(distance("2026-10-25T18:20:00Z", now), "in 6 h 20 min");
  assert.equal(distance("2026-10-25T11:48:00Z", now), "12 min ago");
});

test("lengths of time carry over at a minute, an hour and two days", () => {
  assert.deepEqual([0, 999, 4200, 59_400, 59_600, 143_000, 3_600_000, 3_599_900, 22_000_000, 400_000_000].map(took),
    ["0 ms", "999 ms", "4.2 s", "59 s", "1 min", "2 min 23 s", "1 h", "1 h", "6 h 7 min", "5 d"]);
});

test("a quantity has two digits of its uncertainty, a true minus sign and a unit", () => {
  assert.equal(quantity(817.9664, 0.0011, "ms"), "817.9664 \u00b1 0.0011 ms");
  assert.equal(quantity(-27.5, 2.4, "us"), "\u221227.5 \u00b1 2.4 µs");
  assert.equal(quantity(166, 0, "count"), "166");
  assert.equal(quantity(null, null, "us"), "nothing");
  assert.equal(number(-0.5, 1), "\u22120.5");
  assert.equal(number(-0.001, 1), "0.0", "nothing has no sign");
});

test("limits are said in words", () => {
  assert.equal(limits({ low: null, high: 500 }, "ms"), "at most 500 ms");
  assert.equal(limits({ low: 4, high: null }, "frames"), "at least 4 frames");
  assert.equal(limits({ low: -5, high: 5 }, "us"), "\u22125 to 5 µs");
  assert.equal(limits({ low: null, high: 0 }, "count"), "none allowed");
  assert.equal(limits(null, "us"), "none");
});

test("sizes and counts", () => {
  assert.deepEqual([999, 4_102_000, 182_000_000_000].map(bytes), ["999 B", "4.1 MB", "182 GB"]);
  assert.deepEqual([count(1, "run"), count(2, "run")], ["1 run", "2 runs"]);
  assert.equal(micro("left 1000.0 us, of us"), "left 1000.0 µs, of us");
  assert.equal(micro("off by -5.5 us (-3 to 5, +-8 us) on 2026-11-25, static-mix 1-2"), "off by \u22125.5 µs (\u22123 to 5, \u00b18 µs) on 2026-11-25, static-mix 1-2");
});
