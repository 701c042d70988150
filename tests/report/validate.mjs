// node validate.mjs SCHEMA DOCUMENT: an outside JSON Schema validator, strict, so that a misspelt keyword in the schema is an error too.
import Ajv from "ajv";
import { readFileSync } from "node:fs";

const [schema, document] = process.argv.slice(2).map((path) => JSON.parse(readFileSync(path, "utf8")));
const validate = new Ajv({ strict: true, allowUnionTypes: true, allErrors: true }).compile(schema);
if (!validate(document)) {
  console.error(JSON.stringify(validate.errors, null, 1));
  process.exit(1);
}
