// The phone's modules, compiled once and started afresh for every page.
//
// Each module becomes a function of what surrounds it, so that a page has module variables, a
// clock, a network and a database of its own. Node's own way to the same (vm.SourceTextModule)
// takes 4 ms a page and never gives its memory back; the seeded runs open thousands of pages.
import { readFileSync } from "node:fs";
import { compileFunction } from "node:vm";

import ts from "typescript";

import { MODULES, ROOT } from "./modules.js";

/** The browser's names that a page finds to be its own; all others are Node's. */
export const SURROUNDINGS = [
  "indexedDB",
  "IDBKeyRange",
  "localStorage",
  "fetch",
  "crypto",
  "Date",
  "performance",
  "setTimeout",
  "clearTimeout",
  "navigator",
  "document",
  "location",
  "CompressionStream",
];
const OPTIONS = { module: ts.ModuleKind.CommonJS, target: ts.ScriptTarget.ESNext };

const addresses = Object.entries(MODULES).map(([name, path]) => [
  name,
  String(new URL(path, ROOT)),
]);
const compiled = new Map();

function compile(address, edits) {
  const source = edit(readFileSync(new URL(address), "utf8"), edits);
  const key = `${address} ${source}`;
  if (!compiled.has(key)) {
    // The only syntax of a module that a function cannot have.
    const text = source.replaceAll("import.meta.url", "address");
    const { outputText } = ts.transpileModule(text, { compilerOptions: OPTIONS });
    const names = ["exports", "require", "address", ...SURROUNDINGS];
    compiled.set(key, compileFunction(outputText, names, { filename: new URL(address).pathname }));
  }
  return compiled.get(key);
}

/** The source with [before, after] put in; what is to be replaced must be there once. */
function edit(source, edits) {
  return edits.reduce((text, [before, after]) => {
    const found = text.split(before).length - 1;
    if (found !== 1) throw new Error(`to be edited, but there ${found} times: ${before}`);
    return text.replace(before, () => after);
  }, source);
}

/**
 * A program: call it with the surroundings of a page to get its modules {name: exports}.
 * edits: {name: [[before, after], ...]} changes to the modules' source.
 */
export function compileProgram(edits = {}) {
  const editsOf = new Map(addresses.map(([name, address]) => [address, edits[name] ?? []]));
  const functions = new Map();
  const functionOf = (address) => {
    if (!functions.has(address)) {
      functions.set(address, compile(address, editsOf.get(address) ?? []));
    }
    return functions.get(address);
  };
  return (surroundings) => {
    const loaded = new Map();
    const values = SURROUNDINGS.map((name) => surroundings[name]);
    const load = (address) => {
      if (!loaded.has(address)) {
        const exports = {};
        loaded.set(address, exports);
        const require = (path) => load(String(new URL(path, address)));
        functionOf(address)(exports, require, address, ...values);
      }
      return loaded.get(address);
    };
    return Object.fromEntries(addresses.map(([name, address]) => [name, load(address)]));
  };
}
