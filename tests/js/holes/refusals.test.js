// Whatever the measuring may refuse is said on the phone, in every language.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { test } from "node:test";

const PHONE = new URL("../../../static/phone/", import.meta.url);
const LANGUAGES = readdirSync(new URL("words/", PHONE));

/** Codes in the code of the module and of the screen's own. */
const REFUSED = "holes.refused.";

function listCodes() {
  const folder = new URL("js/holes/", PHONE);
  const sources = readdirSync(folder).map((name) => readFileSync(new URL(name, folder), "utf8"));
  sources.push(readFileSync(new URL("js/screens/holes_picture.js", PHONE), "utf8"));
  const refusals = sources.flatMap((text) => text.match(/refused: [^}]*\}/g) ?? []);
  return new Set(refusals.flatMap((one) => one.match(/"[a-z-]+"/g) ?? []).map((one) => one.slice(1, -1)));
}

test("every refusal has words in every language, and no words are left over", () => {
  const codes = [...listCodes(), "ruler", "no-picture"].sort();
  assert.ok(codes.length > 10, codes.join());
  for (const language of LANGUAGES) {
    const words = JSON.parse(readFileSync(new URL(`words/${language}`, PHONE), "utf8"));
    const said = Object.keys(words).filter((key) => key.startsWith(REFUSED));
    assert.deepEqual(said.map((key) => key.slice(REFUSED.length)).sort(), codes, language);
  }
});
