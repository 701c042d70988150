// Seeded random numbers. MIDSTICK_SEED replaces the seed, which is printed: the same seed draws the same numbers again.
import { randomInt } from "node:crypto";

/** Knuth's and Lewis' linear congruential generator (from memory), its upper bits used: () => 0 <= x < 1. */
export function seeded(test) {
  const seed = Number(process.env.MIDSTICK_SEED ?? randomInt(2 ** 32));
  test.diagnostic(`seed ${seed}: MIDSTICK_SEED=${seed} draws it again`);
  let state = seed >>> 0;
  const next = () => ((state = (Math.imul(state, 1664525) + 1013904223) >>> 0), state / 2 ** 32);
  next();
  return next;
}
