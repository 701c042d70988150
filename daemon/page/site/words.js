// Numbers, times and sizes as people read them. Times are the reader's local ones, and say so.

const two = (n) => String(n).padStart(2, "0");

export const zone = Intl.DateTimeFormat().resolvedOptions().timeZone || "local time";

/** "UTC+1", "UTC-3:30" at that instant. */
export function offset(at = new Date()) {
  const minutes = -at.getTimezoneOffset();
  if (minutes === 0) return "UTC";
  const size = Math.abs(minutes);
  return `UTC${minutes < 0 ? "\u2212" : "+"}${Math.floor(size / 60)}${size % 60 ? ":" + two(size % 60) : ""}`;
}

const day = (at) => `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
const clock = (at) => `${two(at.getHours())}:${two(at.getMinutes())}`;

/** "today 02:30", "yesterday 23:10", "tomorrow 02:30", else "2026-11-25 02:30". */
export function when(iso, now = new Date()) {
  const at = new Date(iso);
  if (Number.isNaN(at.getTime())) return String(iso);
  for (const [word, days] of [["today", 0], ["yesterday", -1], ["tomorrow", 1]]) {
    const that = new Date(now);
    that.setDate(that.getDate() + days);
    if (day(that) === day(at)) return `${word} ${clock(at)}`;
  }
  return `${day(at)} ${clock(at)}`;
}

/** "02:30:07": of something that has just been. */
export const second = (at) => `${clock(at)}:${two(at.getSeconds())}`;

/** For a title: to the second, with the zone. */
export function exactly(iso) {
  const at = new Date(iso);
  return `${day(at)} ${clock(at)}:${two(at.getSeconds())} ${offset(at)}`;
}

/** "in 6 h", "12 min ago". */
export function distance(iso, now = new Date()) {
  const ms = new Date(iso) - now;
  const text = took(Math.abs(ms));
  return ms >= 0 ? `in ${text}` : `${text} ago`;
}

/** A length of time: "4.2 s", "2 min 23 s", "6 h 5 min", "3 d". */
export function took(ms) {
  if (ms < 1000) return `${Math.round(ms)} ms`;
  if (ms < 10_000) return `${(ms / 1000).toFixed(1)} s`;
  const s = Math.round(ms / 1000);
  if (s < 60) return `${s} s`;
  if (s < 3600) return `${Math.floor(s / 60)} min${s % 60 ? ` ${s % 60} s` : ""}`;
  const minutes = Math.round(s / 60);
  if (minutes < 48 * 60) return `${Math.floor(minutes / 60)} h${minutes % 60 ? ` ${minutes % 60} min` : ""}`;
  return `${Math.round(minutes / 1440)} d`;
}

export function bytes(n) {
  const units = ["B", "kB", "MB", "GB", "TB"];
  let unit = 0;
  while (n >= 1000 && unit < units.length - 1) (n /= 1000), ++unit;
  return `${n >= 100 || unit === 0 ? Math.round(n) : n.toFixed(1)} ${units[unit]}`;
}

const kUnits = { us: "µs", "us/s": "µs/s", count: "", ratio: "" };

export const unit = (name) => kUnits[name] ?? name ?? "";

/** A number with a true minus sign and as many digits as its uncertainty deserves. */
export function number(value, digits = 2) {
  if (value === null || value === undefined || Number.isNaN(value)) return "none";
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "\u2212");
}

/** Two digits of the uncertainty; without one, four of the value. */
function digitsFor(value, uncertainty) {
  if (Number.isInteger(value) && !uncertainty) return 0;
  const least = uncertainty > 0 ? uncertainty / 10 : Math.abs(value) / 1000;
  return least > 0 ? Math.min(4, Math.max(0, -Math.floor(Math.log10(least)))) : 2;
}

/** "817.96 ± 0.10 ms". */
export function quantity(value, uncertainty, unitName) {
  if (value === null || value === undefined) return "nothing";
  const digits = digitsFor(value, uncertainty ?? 0);
  const plus = uncertainty ? ` \u00b1 ${number(uncertainty, digits)}` : "";
  return `${number(value, digits)}${plus} ${unit(unitName)}`.trim();
}

/** What a measure of the report read: its words, where the watch ended before what it waited for ("never safe within 818 ms"). */
export const reading = (m) => m.in_words ?? quantity(m.measured, m.uncertainty, m.unit);

/** "at most 500 ms", "−5 to 5 µs". */
export function limits(limit, unitName) {
  const plain = (n) => String(Number(n.toFixed(4))).replace("-", "\u2212");
  const low = limit?.low ?? null, high = limit?.high ?? null;
  if (low === null && high === null) return "none";
  if (low === null && high === 0 && unitName === "count") return "none allowed";
  if (low === null) return `at most ${plain(high)} ${unit(unitName)}`.trim();
  if (high === null) return `at least ${plain(low)} ${unit(unitName)}`.trim();
  return `${plain(low)} to ${plain(high)} ${unit(unitName)}`.trim();
}

/** The program's files write us, - and +- before numbers; people read µs, a true minus and ±. A date keeps its hyphens. */
export const micro = (text) => text.replace(/(\d) us\b/g, "$1 µs").replace(/\+-(?=\d)/g, "\u00b1").replace(/(^|[\s(,:])-(?=\d)/g, "$1\u2212");

export const count = (n, one, many = one + "s") => `${n} ${n === 1 ? one : many}`;
