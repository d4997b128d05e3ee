// One day's work on this phone, counted: pure, from folded stoves and the checklists they were
// judged by. Counts only; a day is too short for rates.
import { countsAsFail } from "./judge.js";
import { listFaults } from "./record.js";
import { buildSerial, serialKey } from "./serial.js";

const SEVERITIES = ["critical", "major", "minor"];
const SEEN = ["pass", "fail", "doubtful"];

/**
 * Inspections made on this phone at or after a UTC time that still count.
 * @param {(StoveRecord & {key: string})[]} stoves
 * @param {string} sinceIso
 * @returns {Seen[]}
 */
export function seenSince(stoves, sinceIso) {
  return stoves.flatMap(({ key, inspections, rows }) => {
    const own = rows.filter(({ origin }) => origin === "own").map(({ event }) => event.id);
    return inspections
      .map((inspection, at) => ({ key, inspection, isFirst: at === 0 }))
      .filter(
        ({ inspection: { id, captured_at } }) => own.includes(id) && captured_at >= sinceIso,
      );
  });
}

/**
 * Checks that counted as a fail, each with the stoves it failed on.
 * @param {Seen[]} seen
 * @param {FindChecklist} findChecklist
 * @returns {DayFault[]} the one on most stoves first
 */
export function countFaults(seen, findChecklist) {
  /** @type {Map<string, DayFault>} */
  const found = new Map();
  for (const { compiled, check, key, answer } of eachCheck(seen, findChecklist, isFail)) {
    const name = `${compiled.id}/${check.id}`;
    const fault = found.get(name) ?? { compiled, check, stoves: new Set(), faults: new Set() };
    fault.stoves.add(key);
    listFaults(answer).forEach((one) => fault.faults.add(one));
    found.set(name, fault);
  }
  return [...found.values()].sort((a, b) => b.stoves.size - a.stoves.size || bySeverity(a, b));
}

/**
 * How many stoves have a fault at each part of a drawing.
 * @param {DayFault[]} faults
 * @returns {Map<string, Record<string, number>>} by name of the drawing, then by part
 */
export function countByPart(faults) {
  /** @type {Map<string, Record<string, Set<string>>>} */
  const drawings = new Map();
  for (const { compiled, check, stoves } of faults) {
    const parts = drawings.get(compiled.drawing) ?? {};
    parts[check.part] = new Set([...(parts[check.part] ?? []), ...stoves]);
    drawings.set(compiled.drawing, parts);
  }
  const sizes = (/** @type {Record<string, Set<string>>} */ parts) =>
    Object.fromEntries(Object.entries(parts).map(([part, stoves]) => [part, stoves.size]));
  return new Map([...drawings].map(([drawing, parts]) => [drawing, sizes(parts)]));
}

/**
 * Who made what failed on its first inspection: later ones tell of repairs.
 * @param {Seen[]} seen
 * @param {FindChecklist} findChecklist
 * @returns {MakerFault[]} what can hurt someone first, then what is on most stoves; `seen` are the
 *   stoves of the day on which this check of the maker's work was answered
 */
export function countMakers(seen, findChecklist) {
  /** @type {Map<string, MakerFault>} */
  const found = new Map();
  const first = seen.filter(({ isFirst }) => isFirst);
  for (const one of eachCheck(first, findChecklist, isAnswered)) {
    const { compiled, check, key, answer, maker } = one;
    if (!maker) continue;
    const name = `${maker}/${compiled.id}/${check.id}`;
    const none = { stoves: new Set(), faults: new Set(), seen: new Set() };
    const fault = found.get(name) ?? { maker, compiled, check, ...none };
    fault.seen.add(key);
    found.set(name, fault);
    if (!isFail(one)) continue;
    fault.stoves.add(key);
    listFaults(answer).forEach((id) => fault.faults.add(id));
  }
  return [...found.values()].filter(({ stoves }) => stoves.size > 0).sort(byUrgency);
}

/** @param {Judged} judged */
const isFail = ({ check, verdict }) => Boolean(verdict && countsAsFail(check, verdict));

/** @param {Judged} judged */
const isAnswered = ({ verdict = "missing" }) => SEEN.includes(verdict);

/**
 * @param {Seen[]} seen
 * @param {FindChecklist} findChecklist
 * @param {(judged: Judged) => boolean} isWanted
 */
function eachCheck(seen, findChecklist, isWanted) {
  return seen.flatMap(({ key, inspection: { checklist_hash, body } }) => {
    const compiled = findChecklist(checklist_hash);
    if (!compiled) return [];
    return compiled.checks
      .map((check) => ({
        compiled,
        check,
        key,
        verdict: body.verdicts[check.id],
        answer: body.answers[check.id] ?? {},
        maker: body.crew[check.step],
      }))
      .filter(isWanted);
  });
}

/**
 * @param {DayFault} one
 * @param {DayFault} other
 */
const bySeverity = (one, other) =>
  SEVERITIES.indexOf(one.check.severity) - SEVERITIES.indexOf(other.check.severity);

/**
 * @param {DayFault} one
 * @param {DayFault} other
 */
function byUrgency(one, other) {
  const isCritical = (/** @type {DayFault} */ { check }) => Number(check.severity === "critical");
  return (
    isCritical(other) - isCritical(one) ||
    other.stoves.size - one.stoves.size ||
    bySeverity(one, other)
  );
}

/**
 * Serials of a batch that nobody has seen yet, as runs [first, last]; null where the yard has
 * serials of its own form, which cannot be foretold.
 * @param {Pick<Batch, "serial_prefix" | "planned">} batch
 * @param {string[]} keys serialKey of each that was seen
 * @returns {[string, string][] | null}
 */
export function unseenRuns({ serial_prefix = "", planned }, keys) {
  if (!serial_prefix) return null;
  const seen = new Set(keys);
  /** @type {[number, number][]} */
  const runs = [];
  for (let number = 1; number <= planned; number += 1) {
    if (seen.has(serialKey(buildSerial(serial_prefix, number)))) continue;
    const last = runs.at(-1);
    if (last?.[1] === number - 1) last[1] = number;
    else runs.push([number, number]);
  }
  return runs.map(([from, to]) => [
    buildSerial(serial_prefix, from),
    buildSerial(serial_prefix, to),
  ]);
}
