// What was found wrong in an inspection.
import { joinLine, list, row } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { localize } from "../ui/words.js";

/**
 * @param {Checklist} compiled
 * @param {{body: Pick<InspectionBody, "verdicts" | "answers">}} inspection
 */
export function faultLines(compiled, { body: { verdicts, answers } }) {
  const found = compiled.checks.filter(({ id }) => ["fail", "doubtful"].includes(verdicts[id]));
  const rows = found.map(({ id, ask, faults }) => {
    const answer = answers[id] ?? {};
    const fault = faults.find((one) => one.id === answer.fault);
    const under = joinLine([localize(fault?.title), answer.note]);
    return row({ mark: shape(verdicts[id]), text: localize(ask), under });
  });
  return list(rows);
}
