// What was found, what becomes of the stove, and whether it is saved.
import { rememberBefore } from "../inspection/answers.js";
import { needsReason } from "../inspection/disposition.js";
import { dropCarried, isApart } from "../inspection/draft.js";
import { isCalculated } from "../inspection/kinds.js";
import { recordFields, summarize } from "../inspection/record.js";
import { record } from "../store/outbox.js";
import { syncNow } from "../sync/sync.js";
import { dispositionMark } from "../ui/disposition_mark.js";
import { h } from "../ui/dom.js";
import { alertLine, button, joinLine, list, page, row, strong, wordsField } from "../ui/page.js";
import { shape, verdictLine } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";
import { undoLine } from "./answer_dock.js";
import { answerWords } from "./answer_words.js";
import { faultCard } from "./fault_card.js";
import { reworkWords } from "./rework_words.js";

/**
 * @param {App} app
 * @param {DraftSummary} found
 * @param {Check} check
 */
function checkRow(app, found, check) {
  const { judgements } = found;
  const { id, part, severity, ask } = check;
  const { answers, size } = app.draft;
  const open = () => {
    const { draft } = app;
    const sheet = isCalculated(check);
    const opened = { ...draft, typed: null, at: { part, check: id, sheet } };
    app.showDraft(sheet ? rememberBefore(opened, draft) : opened);
  };
  if (found.failing.includes(check)) {
    const card = faultCard(app, app.compiled, app.draft, check, judgements[id]);
    return h("li", { class: "card" }, h("button", { type: "button", onclick: open }, card));
  }
  const answer = answerWords(check, answers[id], judgements[id], size);
  return row({
    mark: shape(judgements[id].verdict),
    text: localize(ask),
    onclick: open,
    under: joinLine([t(`severity.${severity}`), answer]),
  });
}

/**
 * What the review found with one verdict.
 * @param {App} app
 * @param {DraftSummary} found
 * @param {"failed" | "doubtful" | "missing" | "skipped" | "shortened"} name
 */
function checkList(app, found, name) {
  const checks = found[name];
  if (checks.length === 0) return null;
  const rows = checks.map((check) => checkRow(app, found, check));
  return h("section", null, h("h2", null, t(`review.${name}`, { n: checks.length })), list(rows));
}

/** @param {DraftSummary} found */
function whyNotReleased({ failing, missing, allowed, proposed }) {
  if (!proposed) return h("p", null, t("review.why_skipped"));
  if (allowed.includes("release")) return null;
  if (missing.length > 0) return h("p", null, t("review.why_missing"));
  const critical = failing.some((check) => check.severity === "critical");
  return h("p", null, t(critical ? "review.why_critical" : "review.why_failed"));
}

/**
 * @param {App} app
 * @param {DraftSummary} found
 * @param {Disposition | null} kind
 */
function dispositionChoice(app, found, kind) {
  const { choice } = app.draft;
  const rows = found.allowed.map((one) =>
    row({
      id: `ui-disposition-${one}`,
      mark: dispositionMark(one),
      text: h("b", null, t(`disposition.${one}`)),
      under: t(`disposition.${one}_means`),
      pressed: one === kind,
      onclick: () => app.changeDraft({ ...app.draft, choice: { ...app.draft.choice, kind: one } }),
    }),
  );
  const reason = wordsField("ui-reason", choice?.reason, (text) =>
    app.storeDraft({ ...app.draft, choice: { kind: kind ?? undefined, reason: text } }),
  );
  return h(
    "section",
    null,
    h("h2", null, t("review.disposition")),
    whyNotReleased(found),
    list(rows, { "aria-label": t("review.disposition") }),
    needsReason(kind) && h("label", null, t("review.reason"), reason),
  );
}

/**
 * What keeps the record from being saved: a word key, or null.
 * @param {Pick<Draft, "look" | "first_piece" | "choice" | "kind" | "reason">} draft
 * @param {Pick<DraftSummary, "missing" | "unnamed">} found
 * @param {Disposition | null} kind
 */
export function findGap(draft, found, kind) {
  if (isApart(draft) && found.missing.length > 0) return "study.gap";
  if (found.unnamed.length > 0) return "review.gap_fault";
  if (!isApart(draft) && !kind) return "review.gap_disposition";
  if (needsReason(kind) && !draft.choice?.reason?.trim()) return "review.gap_reason";
  if (draft.kind === "correction" && !draft.reason?.trim()) return "review.gap_correction";
  return null;
}

/**
 * @param {App} app
 * @param {Disposition | null} kind
 */
async function save(app, kind) {
  if (app.isSaving) return;
  app.isSaving = true;
  const { draft, compiled } = app;
  const { key, stove, look, choice, is_practice, first_piece } = draft;
  const disposition = { kind, ...(needsReason(kind) && { reason: choice?.reason?.trim() }) };
  const fields = recordFields(compiled, draft, disposition, draft.reason?.trim());
  await app.draftStored();
  const done = is_practice || (await app.attempt(() => record(fields, { draftKey: key })));
  app.isSaving = false;
  if (!done) return;
  const practised = is_practice && fields;
  const first = first_piece && (fields.body.is_good ? "good" : "stop");
  app.saved = { stove, kind, study: look?.study, first, practised };
  app.closeDraft();
  app.go("#/saved");
  syncNow().then(app.repaint);
}

/** @param {App} app */
function carriedLine(app) {
  const n = app.draft.carried.length;
  if (n === 0) return null;
  const again = async () =>
    app.showDraft(await app.moveToFirst(app.compiled, dropCarried(app.draft)));
  const words = h("p", null, t("review.carried", { n }));
  return h("section", null, words, button("review.inspect_again", "plain", again));
}

/**
 * Nothing is wrong and nothing is open.
 * @param {App} app
 * @param {DraftSummary} found
 */
function goodLine({ draft, compiled }, { failing, missing, doubtful, skipped }) {
  if (failing.length + missing.length + doubtful.length + skipped.length > 0) return null;
  const n = (draft.checks ?? compiled.checks).length;
  return strong(
    verdictLine("pass", t(draft.is_short ? "review.good_short" : "review.good", { n })),
  );
}

/**
 * The one chosen where it is allowed, else the proposed one; a blind look and a first piece decide
 * nothing.
 * @param {Draft} draft
 * @param {DraftSummary} found
 */
function dispositionOf(draft, { allowed, proposed }) {
  const { choice } = draft;
  if (isApart(draft)) return null;
  return choice?.kind && allowed.includes(choice.kind) ? choice.kind : proposed;
}

/**
 * The way to save, and above it what is missing for that.
 * @param {App} app
 * @param {DraftSummary} found
 * @param {Disposition | null} kind
 */
function saveActions(app, found, kind) {
  const gap = alertLine();
  const trySave = () => {
    const key = findGap(app.draft, found, kind);
    gap.textContent = key ? t(key) : "";
    return key ? null : save(app, kind);
  };
  const key = app.draft.kind === "correction" ? "review.save_correction" : "review.save";
  return [gap, button(key, "go", trySave, {}, { id: "ui-save" })];
}

/**
 * Who repaired what is looked at again.
 * @param {App} app
 */
function reworkLine(app) {
  const repaired = app.draft.reworked_by;
  return repaired && h("p", null, reworkWords(app, app.compiled, repaired));
}

/** @param {App} app */
function correctionReason(app) {
  const { kind, reason } = app.draft;
  if (kind !== "correction") return null;
  const store = (/** @type {string} */ text) => app.storeDraft({ ...app.draft, reason: text });
  return h("label", null, t("review.correction"), wordsField("ui-correction", reason, store));
}

/** @param {App} app */
export function reviewScreen(app) {
  const { compiled, draft } = app;
  if (!draft) return app.go("#/today");
  const found = summarize(compiled, draft);
  const kind = dispositionOf(draft, found);
  if (draft.at.screen !== "review")
    app.storeDraft({
      ...draft,
      typed: null,
      at: { ...draft.at, sheet: undefined, screen: "review" },
    });
  return page(
    {
      title: t("review.title", { stove: draft.stove }),
      back: "#/parts",
      actions: [undoLine(app), ...saveActions(app, found, kind)],
    },
    draft.first_piece && found.failing.length > 0 && alertLine(t("first.stop_now")),
    goodLine(app, found),
    checkList(app, found, "failed"),
    checkList(app, found, "doubtful"),
    checkList(app, found, "missing"),
    checkList(app, found, "skipped"),
    checkList(app, found, "shortened"),
    carriedLine(app),
    reworkLine(app),
    !isApart(draft) && dispositionChoice(app, found, kind),
    correctionReason(app),
  );
}
