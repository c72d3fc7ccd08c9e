// Checks .glb files with the validator of the glTF working group. Prints a line a message; ends with status 1 on any
// error or warning.
//
// Needs Node.js and the npm package gltf-validator, version 2.0.0-dev.3.10:
//
//     npm install --prefix /tmp/gltf gltf-validator@2.0.0-dev.3.10
//     NODE_PATH=/tmp/gltf/node_modules node tests/tools/validate_gltf.mjs a.glb b.glb
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const VERSION = "2.0.0-dev.3.10";
const validator = createRequire(import.meta.url)("gltf-validator");
if (validator.version() !== VERSION) {
  console.error(`this is gltf-validator ${validator.version()}, not ${VERSION}`);
  process.exit(2);
}
const files = process.argv.slice(2);
if (files.length === 0) {
  console.error("no file given");
  process.exit(2);
}
const NAMES = ["error", "warning", "info", "hint"];
let bad = false;
for (const file of files) {
  const report = await validator.validateBytes(new Uint8Array(readFileSync(file)), { uri: file, maxIssues: 0 });
  const { issues, info } = report;
  for (const m of issues.messages) {
    console.log(`${file}: ${NAMES[m.severity]} ${m.code} ${m.pointer ?? ""}: ${m.message}`);
  }
  bad ||= issues.numErrors + issues.numWarnings > 0;
  console.log(
    `${file}: ${issues.numErrors} errors, ${issues.numWarnings} warnings, ${issues.numInfos} infos, ` +
      `${issues.numHints} hints; ${info.animationCount} animations, ${info.drawCallCount} draw calls, ` +
      `${info.totalTriangleCount} triangles`,
  );
}
process.exit(bad ? 1 : 0);
