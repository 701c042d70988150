// The outside validator on mutants of the good files: script_mutants prints one a line with our verdict, {"fits": ..., "value": ...}.
// Arguments: schema folder, corpus folder, the program.
import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { fits, validators } from "./schemas.mjs";

const [schemas, corpus, program] = process.argv.slice(2);
const validate = validators(schemas);
const run = spawnSync(program, [join(corpus, "good")], { encoding: "utf8", maxBuffer: 1 << 30 });
if (run.status !== 0) {
  console.log(`script_mutants: exit ${run.status} ${run.stderr}`);
  process.exit(1);
}
const counts = { true: 0, false: 0 };
let wrong = 0;
for (const line of run.stdout.trimEnd().split("\n")) {
  const mutant = JSON.parse(line);
  ++counts[mutant.fits];
  if (fits(JSON.stringify(mutant.value), validate) === mutant.fits) continue;
  if (++wrong <= 10) console.log(`we say ${mutant.fits}: ${mutant.change}: ${JSON.stringify(mutant.value)}`);
}
console.log(`${counts.true} mutants fit, ${counts.false} do not, ${wrong} on which the outside validator differs`);
process.exit(counts.true < 500 || counts.false < 1000 || wrong > 0 ? 1 : 0);
