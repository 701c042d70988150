// The outside validator on the corpus: good and bad-meaning files fit their schema, bad ones do not. The reader's side of the same
// statement is corpus_test.cpp. Arguments: schema folder, corpus folder.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fits, validators } from "./schemas.mjs";

const [schemas, corpus] = process.argv.slice(2);
const validate = validators(schemas);
let files = 0;
const wrong = [];
for (const [folder, expected] of [["good", true], ["bad-meaning", true], ["bad", false]]) {
  for (const name of readdirSync(join(corpus, folder))) {
    ++files;
    if (fits(readFileSync(join(corpus, folder, name), "utf8"), validate) !== expected) wrong.push(`${folder}/${name}`);
  }
}
console.log(`${files} files, ${wrong.length} on which the outside validator differs ${wrong.join(" ")}`);
process.exit(files < 100 || wrong.length > 0 ? 1 : 0);
