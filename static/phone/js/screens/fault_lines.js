// What was found wrong in an inspection.
import { joinLine, list, row } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { localize } from "../ui/words.js";
import { faultWords } from "./answer_words.js";

/**
 * @param {Checklist} compiled
 * @param {{body: Pick<InspectionBody, "verdicts" | "answers">}} inspection
 */
export function faultLines(compiled, { body: { verdicts, answers } }) {
  const found = compiled.checks.filter(({ id }) => ["fail", "doubtful"].includes(verdicts[id]));
  const rows = found.map((check) => {
    const { fault, note } = answers[check.id] ?? {};
    const under = joinLine([faultWords(check, fault), note]);
    return row({ mark: shape(verdicts[check.id]), text: localize(check.ask), under });
  });
  return list(rows);
}
