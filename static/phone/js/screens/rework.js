// Stoves in rework or held, each with what is to be repaired.
import { findChecklist } from "../store/local_db.js";
import { h, whenSeen } from "../ui/dom.js";
import { page } from "../ui/page.js";
import { formatDay, t } from "../ui/words.js";
import { faultCards } from "./fault_card.js";
import { listWaiting, stoveRows } from "./stoves.js";

/** @typedef {Awaited<ReturnType<typeof listWaiting>>[number]} Waiting */

/** @param {Waiting} stove */
function stateLine({ state, batch }) {
  return t("rework.line", {
    disposition: t(`disposition.${state.disposition}`),
    batch: batch.title ?? batch.code,
    day: formatDay(state.inspections.at(-1)?.captured_at ?? ""),
  });
}

/**
 * The cards of a stove; made when they come into sight, because a yard may have many.
 * @param {App} app
 * @param {Waiting} stove
 */
function cardsOf(app, { state }) {
  const last = state.inspections.at(-1);
  const place = h("div", { class: "cards-of" });
  whenSeen(place, async () => {
    const compiled = last && (await findChecklist(last.checklist_hash));
    if (compiled) place.replaceChildren(faultCards(app, compiled, last.body));
  });
  return place;
}

/** @param {App} app */
export async function reworkScreen(app) {
  const waiting = await listWaiting(app);
  const rows = waiting.map((stove) => [
    stoveRows(app, [{ ...stove, under: stateLine(stove) }]),
    cardsOf(app, stove),
  ]);
  return page(
    { title: t("rework.title"), back: "#/today" },
    waiting.length === 0 && h("p", null, t("rework.none")),
    rows.flat(),
  );
}
