// Stoves of this phone today.
import { listMine } from "../store/records.js";
import { recordMark } from "../ui/disposition_mark.js";
import { h } from "../ui/dom.js";
import { page } from "../ui/page.js";
import { t } from "../ui/words.js";
import { readStove, stoveRows } from "./stoves.js";

/** @param {StoveRecord} state */
function stateLine({ rows, disposition }) {
  const isSent = !rows.some(({ state }) => state === "unsent");
  const words = t(`disposition.${disposition ?? "none"}`);
  const sent = t(isSent ? "mine.sent" : "mine.not_sent");
  const line = t("mine.line", { disposition: words, sent });
  return h("span", { class: "kept" }, recordMark(isSent ? "yard" : "phone"), line);
}

/** @param {string} key */
async function readLine(key) {
  const state = await readStove(key);
  return { key, state, under: stateLine(state) };
}

/** @param {App} app */
export async function mineScreen(app) {
  const midnight = new Date(app.now());
  midnight.setHours(0, 0, 0, 0);
  const rows = await listMine(midnight.toISOString());
  const keys = [...new Set(rows.flatMap(({ key }) => key ?? []))];
  const stoves = await Promise.all(keys.map(readLine));
  return page(
    { title: t("mine.title"), back: "#/today" },
    stoves.length === 0 && h("p", null, t("mine.none")),
    stoveRows(app, stoves),
  );
}
