// What is wrong with a check, what becomes of the stove, and whether it is saved.
import { countsAsFail, needsReason } from "../inspection/judge.js";
import * as drafts from "../inspection/draft.js";
import { findPhoto, savePhoto } from "../store/local_db.js";
import { record } from "../store/outbox.js";
import { syncNow } from "../sync/sync.js";
import {
  button,
  formatNumber,
  h,
  page,
  pick,
  row,
  say,
  sayReason,
  shape,
  sheet,
  showTyped,
  verdictLine,
  walkRoute,
  wordOf,
  wordsField,
} from "./view.js";

/** "97 to 103 mm", "at least 10 mm", "exactly 19". */
export function limitWords({ lower, upper }, unit) {
  const kind =
    lower === null
      ? "at_most"
      : upper === null
        ? "at_least"
        : lower === upper
          ? "exact"
          : "between";
  return say(`limit.${kind}`, { lower, upper, unit: wordOf("unit", unit) }).trim();
}

/**
 * A reading, or the mean of two, with the uncertainty (k = 2) it has: a second reading makes only that part
 * smaller which differs from one to the next (JCGM 100:2008, 4.2.3).
 */
export function closeWords(check, value, n = 1) {
  const uncertainty = Math.sqrt(
    check.uncertainty ** 2 - (n > 1 ? (check.repeatability ?? 0) ** 2 / 2 : 0),
  );
  return say(n > 1 ? "close.mean" : "close.one", {
    value,
    uncertainty: Number(uncertainty.toPrecision(2)),
    unit: wordOf("unit", check.unit),
  });
}

/** What becomes of a doubtful reading (JCGM 106:2012, 8.2 and 8.3). */
export const ruleWords = (check) =>
  say(`close.${check.decision}`, { guard: check.guard_factor ?? 1 });

/** Value, option or fault of an answered check, in words. */
export function answerWords(check, answer, judgement, size) {
  const isTwice = check.kind === "measure" && answer?.values?.length > 1;
  const unit = check.unit ? ` ${wordOf("unit", check.unit)}` : "";
  const fault = check.faults.find(({ id }) => id === answer?.fault);
  const value =
    answer?.values?.length > 1
      ? answer.values.map(showTyped).join(" · ") + unit
      : (judgement.value ?? null) !== null
        ? formatNumber(Number(judgement.value.toPrecision(4))) + unit
        : "";
  const option = check.options?.find(({ id }) => id === answer?.option);
  const wanted =
    check.kind === "calculated" && judgement.value !== null
      ? limitWords(check.limits[size], check.unit)
      : "";
  return [
    value,
    isTwice && closeWords(check, judgement.value, 2),
    judgement.verdict === "doubtful" && ruleWords(check),
    pick(option?.title),
    wanted && say("walk.wanted", { limits: wanted }),
    pick(fault?.title),
    answer?.note,
  ]
    .filter(Boolean)
    .join(" · ");
}

/** What was found wrong in a kept inspection. */
export function faultLines(compiled, inspection) {
  const worth = (check) => ["fail", "doubtful"].includes(inspection.body.verdicts[check.id]);
  return h(
    "ul",
    { class: "rows" },
    compiled.checks.filter(worth).map((check) => {
      const answer = inspection.body.answers[check.id] ?? {};
      const fault = check.faults.find(({ id }) => id === answer.fault);
      return row({
        mark: shape(inspection.body.verdicts[check.id]),
        text: pick(check.ask),
        under: [pick(fault?.title), answer.note].filter(Boolean).join(" · "),
      });
    }),
  );
}

function faultChoice(app, check, chosen) {
  const choose = (fault) => () =>
    app.change(drafts.patchAnswer(app.draft, check.id, { fault: fault.id }));
  return h(
    "ul",
    { class: "rows", "aria-label": say("fault.which") },
    check.faults.map((fault) =>
      row({
        id: `ui-fault-${fault.id}`,
        text: pick(fault.title),
        pressed: fault.id === chosen,
        onclick: choose(fault),
      }),
    ),
  );
}

/** A photo as far as this phone has it, and where it is. */
export async function photoFigure(name) {
  const photo = await findPhoto(name);
  const source = photo?.bytes ?? photo?.thumb;
  const reason = photo?.reason && sayReason(photo.reason);
  return h(
    "figure",
    null,
    source &&
      h("img", {
        class: "photo",
        alt: say("fault.photo_taken"),
        src: URL.createObjectURL(new Blob([source], { type: photo.type })),
      }),
    h("figcaption", null, say(`photo.${photo?.state ?? "elsewhere"}`, { reason })),
  );
}

/** Strikes out an inspection of a stove; place: {stage, stove}. */
export function voidForm(app, place, inspection) {
  const reason = wordsField(null, "", () => {});
  const strike = async () => {
    if (!reason.value.trim()) return reason.focus();
    await app.attempt(() =>
      record(
        {
          kind: "void",
          inspector: app.inspector,
          batch: inspection.batch,
          ...place,
          corrects: inspection.id,
          body: { reason: reason.value.trim() },
          photos: [],
        },
        {},
      ),
    );
    app.refresh();
  };
  return h(
    "details",
    null,
    h("summary", null, say("stove.void")),
    h("label", null, say("stove.void_reason"), reason),
    button("stove.void_do", "plain", strike),
  );
}

async function addPhoto(app, check, file, is_fault) {
  if (!file) return;
  const done = await app.attempt(async () => {
    const sha256 = await savePhoto(file, { is_fault });
    const photos = [...new Set([...(app.draft.answers[check.id]?.photos ?? []), sha256])];
    app.keep({ ...drafts.patchAnswer(app.draft, check.id, { photos }), photo_awaited: undefined });
  });
  if (done) app.refresh();
}

function photoPicker(app, check, answer, is_fault) {
  if (app.draft.is_practice) return null;
  // The camera may make the phone end this page; the mark lets the next start say that the photo did not come.
  const expect = () => app.keep({ ...app.draft, photo_awaited: check.id });
  const input = h("input", {
    type: "file",
    accept: "image/*",
    capture: "environment",
    id: "ui-photo",
    class: "beside",
    onclick: expect,
    onchange: (event) => addPhoto(app, check, event.target.files[0], is_fault),
  });
  const pictures = h("div", null);
  Promise.all((answer.photos ?? []).map(photoFigure)).then((figures) =>
    pictures.replaceChildren(...figures),
  );
  return h(
    "div",
    { class: "photos" },
    pictures,
    app.draft.photo_awaited === check.id &&
      !answer.photos &&
      h("p", { class: "note" }, say("fault.photo_lost")),
    h(
      "label",
      { class: "plain", for: "ui-photo" },
      input,
      say(answer.photos ? "fault.photo_more" : "fault.photo"),
    ),
  );
}

function notApplicable(app, check, note, done) {
  const answer = () => {
    if (!note.value.trim()) return note.focus();
    return done(
      drafts.setAnswer(app.draft, check.id, { mark: "not_applicable", note: note.value.trim() }),
    );
  };
  return h(
    "details",
    null,
    h("summary", null, say("fault.not_applicable")),
    h("p", null, say("fault.not_applicable_why")),
    button("fault.not_applicable_do", "plain", answer),
  );
}

/** Sheet over the walk: fault, note, photo of one check, or that it does not apply. done(draft) goes on. */
export function faultSheet(app, check, judgement, done) {
  const answer = app.draft.answers[check.id] ?? {};
  const failing = countsAsFail(check, judgement.verdict);
  const chosen = answer.fault ?? (failing ? drafts.plainFault(check, judgement) : null);
  const note = wordsField("ui-note", answer.note, (text) =>
    app.keep(drafts.patchAnswer(app.draft, check.id, { note: text.trim() || undefined })),
  );
  const close = () => {
    const change = {
      note: note.value.trim() || undefined,
      fault: failing && chosen ? chosen : undefined,
    };
    const { sheet: _, ...at } = app.draft.at;
    const closed = { ...app.draft, at };
    const isMissing = judgement.verdict === "missing";
    if (isMissing && !change.note && !answer.photos) return app.change(closed);
    return (isMissing ? app.change : done)(drafts.patchAnswer(closed, check.id, change));
  };
  const need = failing && !chosen && check.faults.length > 1;
  return sheet(
    say(failing ? "fault.title" : "fault.more_title"),
    close,
    h(
      "p",
      null,
      pick(check.ask),
      " ",
      failing &&
        h(
          "b",
          null,
          answerWords(
            { ...check, faults: [] },
            { values: answer.values },
            judgement,
            app.draft.size,
          ),
        ),
    ),
    failing && check.faults.length > 0 && faultChoice(app, check, chosen),
    h("label", null, say("fault.note"), note),
    photoPicker(app, check, answer, failing),
    !failing &&
      notApplicable(app, check, note, (draft) =>
        done({ ...draft, at: { part: check.part, check: check.id } }),
      ),
    h(
      "div",
      { class: "dock" },
      need && h("p", null, say("fault.choose")),
      button("fault.done", "go", close, {}, { "aria-disabled": String(need), id: "ui-done" }),
    ),
  );
}

/** What the review found with one verdict: "failed", "doubtful" or "missing". */
function checkList(app, found, name) {
  const { judgements, [name]: checks } = found;
  if (checks.length === 0) return null;
  const visit = (check) => () => {
    app.keep({
      ...app.draft,
      typed: null,
      at: { part: check.part, check: check.id, sheet: check.kind === "calculated" },
    });
    app.go(walkRoute(check.part));
  };
  return h(
    "section",
    null,
    h("h2", null, say(`review.${name}`, { n: checks.length })),
    h(
      "ul",
      { class: "rows" },
      checks.map((check) =>
        row({
          mark: shape(judgements[check.id].verdict),
          text: pick(check.ask),
          onclick: visit(check),
          under: [
            say(`severity.${check.severity}`),
            answerWords(check, app.draft.answers[check.id], judgements[check.id], app.draft.size),
          ]
            .filter(Boolean)
            .join(" · "),
        }),
      ),
    ),
  );
}

function whyNotReleased({ failing, missing, allowed }) {
  if (allowed.includes("release")) return null;
  if (missing.length > 0) return h("p", null, say("review.why_missing"));
  const critical = failing.some((check) => check.severity === "critical");
  return h("p", null, say(critical ? "review.why_critical" : "review.why_failed"));
}

function dispositionChoice(app, found, kind) {
  const choose = (one) => () =>
    app.change({ ...app.draft, choice: { ...app.draft.choice, kind: one } });
  const reason = wordsField("ui-reason", app.draft.choice?.reason, (text) =>
    app.keep({ ...app.draft, choice: { kind, reason: text } }),
  );
  return h(
    "section",
    null,
    h("h2", null, say("review.disposition")),
    whyNotReleased(found),
    h(
      "ul",
      { class: "rows", "aria-label": say("review.disposition") },
      found.allowed.map((one) =>
        row({
          id: `ui-disposition-${one}`,
          text: h("b", null, say(`disposition.${one}`)),
          under: say(`disposition.${one}_means`),
          pressed: one === kind,
          onclick: choose(one),
        }),
      ),
    ),
    needsReason(kind) && h("label", null, say("review.reason"), reason),
  );
}

/** What keeps the record from being saved: a word key, or null. */
export function findGap(draft, found, kind) {
  if (draft.look && found.missing.length > 0) return "study.gap";
  if (found.unnamed.length > 0) return "review.gap_fault";
  if (needsReason(kind) && !draft.choice?.reason?.trim()) return "review.gap_reason";
  if (draft.kind === "correction" && !draft.reason?.trim()) return "review.gap_correction";
  return null;
}

async function save(app, kind) {
  if (app.isSaving) return;
  app.isSaving = true;
  const { draft, compiled } = app;
  const disposition = needsReason(kind) ? { kind, reason: draft.choice.reason.trim() } : { kind };
  const fields = drafts.recordFields(compiled, draft, disposition, draft.reason?.trim());
  await app.settled();
  const done =
    draft.is_practice || (await app.attempt(() => record(fields, { draftKey: draft.key })));
  app.isSaving = false;
  if (!done) return;
  app.saved = {
    stove: draft.stove,
    kind,
    study: draft.look?.study,
    practised: draft.is_practice && fields,
  };
  app.draft = null;
  app.go("#/saved");
  syncNow().then(() => app.repaint());
}

function carriedLine(app) {
  const n = app.draft.carried.length;
  if (n === 0) return null;
  const again = () => app.goOn(drafts.atFirstOpen(app.compiled, drafts.dropCarried(app.draft)));
  return h(
    "section",
    null,
    h("p", null, say("review.carried", { n })),
    button("review.look_again", "plain", again),
  );
}

export function reviewScreen(app) {
  if (!app.draft) return app.go("#/today");
  const { compiled, draft } = app;
  const found = drafts.sumUp(compiled, draft);
  const kind = draft.look
    ? null
    : found.allowed.includes(draft.choice?.kind)
      ? draft.choice.kind
      : found.allowed[0];
  const good = found.failing.length + found.missing.length + found.doubtful.length === 0;
  if (draft.at.screen !== "review")
    app.keep({ ...draft, typed: null, at: { ...draft.at, sheet: undefined, screen: "review" } });
  const gap = h("p", { class: "note", role: "alert" });
  const isCorrection = draft.kind === "correction";
  const trySave = () => {
    const key = findGap(app.draft, found, kind);
    gap.textContent = key ? say(key) : "";
    return key ? null : save(app, kind);
  };
  return page(
    {
      title: say("review.title", { stove: draft.stove }),
      back: "#/parts",
      actions: [
        gap,
        button(
          isCorrection ? "review.save_correction" : "review.save",
          "go",
          trySave,
          {},
          { id: "ui-save" },
        ),
      ],
    },
    good &&
      h(
        "p",
        { class: "strong" },
        verdictLine(
          "pass",
          say(draft.is_short ? "review.good_short" : "review.good", {
            n: (draft.checks ?? compiled.checks).length,
          }),
        ),
      ),
    ["failed", "doubtful", "missing"].map((name) => checkList(app, found, name)),
    carriedLine(app),
    kind && dispositionChoice(app, found, kind),
    isCorrection &&
      h(
        "label",
        null,
        say("review.correction"),
        wordsField("ui-correction", draft.reason, (reason) => app.keep({ ...app.draft, reason })),
      ),
  );
}
