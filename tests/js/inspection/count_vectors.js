// Runs every vector and prints {file: how many ran}; the first difference ends it with exit code 1.
import { listVectors } from "./vectors.js";

const counts = {};
for (const { file, name, run } of listVectors()) {
  try {
    run();
  } catch (error) {
    console.error(`${name}\n${error.message}`);
    process.exit(1);
  }
  counts[file] = (counts[file] ?? 0) + 1;
}
console.log(JSON.stringify(counts));
