// Holds every GLB in a folder to the glTF validator: no error, no warning.
// Usage: node validate_glb.mjs NODE_FOLDER FOLDER

import { readFileSync, readdirSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const [nodeFolder, folder] = process.argv.slice(2);
const validator = createRequire(join(resolve(nodeFolder), "package.json"))("gltf-validator");

const models = readdirSync(folder).filter((name) => name.endsWith(".glb"));
let failed = models.length === 0;
if (failed) console.error(`${folder}: no GLB in it`);
for (const name of models) {
  const path = join(folder, name);
  const { issues } = await validator.validateBytes(new Uint8Array(readFileSync(path)), {
    uri: name,
    maxIssues: 20,
  });
  for (const issue of issues.messages.filter((issue) => issue.severity < 2)) {
    console.error(`${path}: ${issue.code} at ${issue.pointer ?? issue.offset}: ${issue.message}`);
  }
  console.log(`${path}: ${issues.numErrors} errors, ${issues.numWarnings} warnings`);
  failed ||= issues.numErrors + issues.numWarnings > 0;
}
process.exit(failed ? 1 : 0);
