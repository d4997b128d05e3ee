// What the phone asks of each kind of check: twin of the classes in qcapp/checklist/check_kinds.py.

/**
 * answer: the key of an answer that holds what the inspector gave, null where it is calculated from
 * other answers. isWhole: readings are whole numbers. takesSecond: a doubtful reading may be
 * followed by a second one.
 */
export const KINDS = {
  tick: { answer: "mark", isWhole: false, takesSecond: false },
  choice: { answer: "option", isWhole: false, takesSecond: false },
  measure: { answer: "values", isWhole: false, takesSecond: true },
  count: { answer: "values", isWhole: true, takesSecond: false },
  readings: { answer: "values", isWhole: false, takesSecond: false },
  calculated: { answer: null, isWhole: false, takesSecond: false },
};

/** @param {Pick<Check, "kind">} check */
export const isCalculated = (check) => KINDS[check.kind].answer === null;

/** @param {Pick<Check, "kind">} check */
export const isTick = (check) => KINDS[check.kind].answer === "mark";

/** @param {Pick<Check, "kind">} check */
export const isChoice = (check) => KINDS[check.kind].answer === "option";

/** @param {Pick<Check, "kind">} check */
export const isTyped = (check) => KINDS[check.kind].answer === "values";

/** @param {Pick<Check, "kind">} check */
export const isWhole = (check) => KINDS[check.kind].isWhole;

/** @param {Pick<Check, "kind">} check */
export const takesSecond = (check) => KINDS[check.kind].takesSecond;

/**
 * How many readings make the answer of a check whose readings are typed.
 * @param {Pick<Check, "n">} check
 */
export const countReadings = (check) => check.n ?? 1;
