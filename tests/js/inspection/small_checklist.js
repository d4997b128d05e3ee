// A small checklist with every kind of check, for tests of the walk.

const text = (en) => ({ en });
const fault = (id, side = null) => ({ id, title: text(id), side });

const check = (id, part, kind, more = {}) => ({
  id,
  part,
  step: "cut",
  severity: "major",
  kind,
  ask: text(id),
  how: text(""),
  caution: null,
  basis: "test",
  when: {},
  faults: [fault("too-large", "above"), fault("too-small", "below")],
  ...more,
});

const number = (lower, upper, { uncertainty = 0.8, ...more } = {}) => ({
  unit: "mm",
  resolution: 1,
  uncertainty,
  decision: "simple",
  possible: { lower: 0, upper: 400 },
  limits: {
    medium: {
      lower,
      nominal: null,
      upper,
      accept_lower: lower === null ? null : lower + uncertainty,
      accept_upper: upper === null ? null : upper - uncertainty,
    },
  },
  ...more,
});

export const compiled = {
  id: "small-stove",
  revision: 2,
  title: text("Small stove"),
  stage: "finished",
  drawing: "stove.svg",
  sizes: ["medium"],
  parts: ["door", "grate", "paint", "legs"].map((id) => ({ id, title: text(id) })),
  steps: [
    { id: "cut", trade: "metalwork", title: text("cut") },
    { id: "pierce", trade: "clay", title: text("pierce") },
  ],
  checks: [
    check("edges", "door", "tick", {
      severity: "critical",
      faults: [fault("raw"), fault("sharp")],
    }),
    check("swing", "door", "tick"),
    check("width", "door", "measure", number(97, 103, { may_not_apply: true })),
    check("height", "door", "measure", number(67, 73)),
    check("area", "door", "calculated", {
      inputs: ["width", "height"],
      expression: ["/", ["*", ["input", "width"], ["input", "height"]], 100],
      ...number(66, 74),
    }),
    check("holes", "grate", "count", { step: "pierce", ...number(19, 19, { uncertainty: 0 }) }),
    check("margin", "grate", "readings", {
      n: 2,
      by: "smallest",
      labels: [text("front"), text("back")],
      faults: [fault("too-near", "below")],
      ...number(10, null),
    }),
    check("cover", "paint", "tick", { when: { "batch.painted": true } }),
    check("crack", "legs", "choice", {
      options: [
        { id: "none", title: text("none"), verdict: "pass", fault: null },
        { id: "open", title: text("open"), verdict: "fail", fault: "too-large" },
      ],
    }),
  ],
};

export const batch = { code: "B1", size: "medium", attributes: { painted: false }, crew: {} };

export const fields = {
  compiled,
  hash: "c".repeat(64),
  batch,
  stove: "M-001",
  inspector: "I01",
  crew: { cut: "A01" },
  started_at: "2026-11-25T08:00:00.000Z",
};

export const good_answers = {
  edges: { mark: "pass" },
  swing: { mark: "pass" },
  width: { values: ["100"] },
  height: { values: ["70"] },
  holes: { values: ["19"] },
  margin: { values: ["12", "13"] },
  crack: { option: "none" },
};

/** An inspection as the fold gives it. */
export function inspectionOf(body) {
  return {
    id: "i1",
    captured_at: "2026-11-25T08:05:00.000Z",
    inspector: "I01",
    batch: "B1",
    checklist_hash: fields.hash,
    body,
  };
}
