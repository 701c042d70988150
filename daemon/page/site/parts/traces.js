// What plots are made of, apart from drawing: columns with breaks, numbers on axes, labels that keep off each other. Pure.

import { number } from "../words.js";

/** As the daemon means it: a pulse is shown for so long at most. */
export const kSilentMs = 100;
const kBreakMs = 0.001; ///< a break stands this long after the pulse that it follows

/**
 * [time, ...values] as columns, broken where the line is silent. The daemon says where that is: thinned points lie far apart without a pause
 * between the pulses that they stand for.
 */
export function columns(rows, silent, values) {
  const x = [], y = Array.from({ length: values }, () => []);
  let next = 0;
  for (const [ms, ...at] of rows) {
    for (; next < silent.length && silent[next][0] < ms; ++next)
      if (x.length && silent[next][0] + kBreakMs > x.at(-1)) x.push(silent[next][0] + kBreakMs), y.forEach((column) => column.push(null));
    x.push(ms), y.forEach((column, i) => column.push(at[i]));
  }
  return [x, ...y];
}

/** Where a band is not held: it is worked out pulse by pulse, and never thinned. */
export const gaps = (band) => band.slice(1).map(([ms], i) => [band[i][0], ms]).filter(([from, to]) => to - from > kSilentMs);

/** Did that instant lie in a stretch that the verdict rests on? A pulse has a length, the stretch may end with its edge. */
export const within = (spans, ms) => spans.some(([from, to]) => ms >= from - kBreakMs && ms <= to + kBreakMs);

/** What the band is, by the checks that were played in sight. */
export function allowance(segments) {
  const all = [...new Set(segments.map((s) => s.tolerance_us))];
  if (all.length === 0 || all.includes(null)) return "nominal by the mixer spec";
  const [least, most] = [Math.min(...all), Math.max(...all)];
  if (most === 0) return "allowed by the mixer spec";
  return `allowed by the mixer spec and the check's \u00b1${least === most ? number(most, 0) : `${number(least, 0)} to ${number(most, 0)}`} µs`;
}

/** As many as tell marks of this step apart: 0.25 needs two, though it is more than 0.1. */
export function decimals(step) {
  for (let n = 0; n < 6; ++n) if (Math.abs(step * 10 ** n - Math.round(step * 10 ** n)) < 1e-6) return n;
  return 6;
}

const day = (at) => at.toLocaleDateString("en-GB", { day: "numeric", month: "short" });

/** Marks of a time axis, s of Unix time: the clock, with the date below the first and wherever a day begins, so that none is said twice. */
export function timeMarks(marks, step) {
  return marks.map((mark, i) => {
    const at = new Date(mark * 1000), clock = at.toTimeString().slice(0, step < 60 ? 8 : 5);
    if (step >= 86_400) return day(at);
    return i === 0 || day(at) !== day(new Date(marks[i - 1] * 1000)) ? `${clock}\n${day(at)}` : clock;
  });
}

/**
 * Labels beside upright marks, [{ x, width }] from left to right: for each { row, left: does it stand left of its mark }, or null where no
 * row has room for it.
 */
export function placed(labels, rows, gap, from, to) {
  const taken = rows.map(() => from);
  return labels.map(({ x, width }) => {
    const left = x + gap + width > to, begin = left ? x - gap - width : x + gap;
    const i = taken.findIndex((end) => begin >= end);
    if (i < 0) return null;
    taken[i] = begin + width + gap;
    return { row: rows[i], left };
  });
}
