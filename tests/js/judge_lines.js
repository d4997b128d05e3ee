// Answers questions from the Python tests: one JSON line in, one JSON line out.
import { createHash } from "node:crypto";
import { createInterface } from "node:readline";

import { canonicalJson, eventHash } from "../../static/phone/js/inspection/event.js";
import { foldStove } from "../../static/phone/js/inspection/stove.js";
import { neededChecks } from "../../static/phone/js/inspection/draft.js";
import { allowedDispositions } from "../../static/phone/js/inspection/disposition.js";
import {
  countsAsFail,
  hindersRelease,
  isLeftOut,
  judgeAnswers,
} from "../../static/phone/js/inspection/judge.js";
import { KINDS } from "../../static/phone/js/inspection/kinds.js";
import { parseNumber } from "../../static/phone/js/inspection/number.js";
import {
  doubtSerial,
  findSerialNumber,
  serialKey,
} from "../../static/phone/js/inspection/serial.js";

const sha256 = (bytes) => createHash("sha256").update(bytes).digest("hex");

const TASKS = {
  kinds: () => KINDS,
  number({ text }) {
    const canonical = parseNumber(text);
    return { canonical, value: canonical === null ? null : Number(canonical) };
  },
  judge({ checklist, answers, context }) {
    const judgements = judgeAnswers(checklist, answers, context);
    return checklist.checks.map((check) => ({
      ...judgements[check.id],
      counts_as_fail: countsAsFail(check, judgements[check.id].verdict),
      hinders_release: hindersRelease(check, judgements[check.id]),
      is_left_out: isLeftOut(judgements[check.id]),
    }));
  },
  disposition: ({ severities, missing }) => allowedDispositions(severities, missing),
  needed: ({ checks, is_short }) => neededChecks(checks, is_short),
  fold: ({ events }) => foldStove(events),
  serial: ({ serial, prefix, planned }) => ({
    key: serialKey(serial),
    number: findSerialNumber(serial, prefix),
    doubt: doubtSerial(serial, { serial_prefix: prefix, planned }),
  }),
  // Sent as text, because the two parsers of JSON may not agree on what a value is.
  canonical({ text }) {
    try {
      const value = JSON.parse(text);
      return { canonical: canonicalJson(value), hash: eventHash({ value }, sha256) };
    } catch (error) {
      return { refused: error instanceof TypeError };
    }
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  const question = JSON.parse(line);
  process.stdout.write(`${JSON.stringify(TASKS[question.task](question))}\n`);
}
