import { test } from "node:test";

import { listVectors } from "./vectors.js";

for (const { name, run } of listVectors()) test(name, run);
