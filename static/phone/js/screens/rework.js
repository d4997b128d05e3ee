// Stoves in rework or held.
import { h } from "../ui/dom.js";
import { page } from "../ui/page.js";
import { formatDay, t } from "../ui/words.js";
import { listWaiting, stoveRows } from "./stoves.js";

/** @param {Awaited<ReturnType<typeof listWaiting>>[number]} stove */
function stateLine({ state, batch }) {
  return t("rework.line", {
    disposition: t(`disposition.${state.disposition}`),
    batch: batch.title ?? batch.code,
    day: formatDay(state.inspections.at(-1)?.captured_at ?? ""),
  });
}

/** @param {App} app */
export async function reworkScreen(app) {
  const waiting = await listWaiting(app);
  return page(
    { title: t("rework.title"), back: "#/today" },
    waiting.length === 0 && h("p", null, t("rework.none")),
    stoveRows(
      app,
      waiting.map((stove) => ({ ...stove, under: stateLine(stove) })),
    ),
  );
}
