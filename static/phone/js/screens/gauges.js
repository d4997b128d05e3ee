// Templates and gauges: which are due, and the check of one against its master piece.
import { asCheck } from "../inspection/gauge.js";
import { record } from "../store/outbox.js";
import { syncNow } from "../sync/sync.js";
import { h } from "../ui/dom.js";
import { alertLine, list, note, page, row, strong } from "../ui/page.js";
import { ruler } from "../ui/ruler.js";
import { typeInto } from "../ui/typing.js";
import { shape } from "../ui/verdict.js";
import { formatDay, t, wordOf } from "../ui/words.js";
import { forgetLate, listGauges } from "./gauge_state.js";
import { applyKey, judgeTyped, keys, typedLine } from "./number_pad.js";

const CONTEXT = { size: "", batch: {} };

/** What is typed, and of which one; gone when it is judged. */
let typing = { id: "", text: "" };

/** @param {GaugeState} gauge */
const lower = ({ dueOn, isOutside }) => (isOutside ? "" : dueOn);

/** @param {GaugeState} gauge */
function stateWords({ isOutside, isLate, isDue, dueOn }) {
  if (isOutside) return t("gauge.outside");
  if (isDue && !isLate) return t("gauge.today");
  return t(isLate ? "gauge.late" : "gauge.next", { day: formatDay(dueOn) });
}

/** @param {GaugeState} gauge */
function markOf({ isOutside, isDue }) {
  if (isOutside) return shape("fail");
  return shape(isDue ? "doubtful" : "pass");
}

/** @param {App} app */
export async function gaugesScreen(app) {
  const gauges = await listGauges(app);
  gauges.sort((one, other) => (lower(one) < lower(other) ? -1 : 1));
  const rows = gauges.map((gauge) =>
    row({
      mark: markOf(gauge),
      text: h("b", null, gauge.name),
      under: stateWords(gauge),
      onclick: () => app.go(`#/gauge/${gauge.id}`),
    }),
  );
  return page(
    { title: t("gauge.title"), back: "#/today" },
    h("p", null, t(rows.length > 0 ? "gauge.how" : "gauge.none")),
    list(rows),
  );
}

/**
 * @param {App} app
 * @param {GaugeState} gauge
 * @param {string} value
 * @param {Verdict} verdict
 */
async function save(app, gauge, value, verdict) {
  const { id, held_against } = gauge;
  const body = { gauge: id, held_against, value, verdict };
  const fields = { kind: "gauge_check", inspector: app.inspector, body };
  typing = { id: "", text: "" };
  if (!(await app.attempt(() => record(fields)))) return;
  forgetLate();
  syncNow().then(app.repaint);
  // One outside stays in sight, with what to do about it.
  if (verdict === "fail") await app.refresh();
  else app.go("#/gauges");
}

/**
 * @param {App} app
 * @param {string} id
 */
export async function gaugeScreen(app, id) {
  const gauge = (await listGauges(app)).find((one) => one.id === id);
  if (!gauge) return app.go("#/gauges");
  if (typing.id !== id) typing = { id, text: "" };
  const check = asCheck(gauge);
  const { "": limits } = check.limits;
  const judge = () => judgeTyped(check, [], 0, typing.text, CONTEXT);
  const accept = () => {
    const { text, problem, judgement } = judge();
    if (problem || !text || !judgement) return null;
    return save(app, gauge, text, judgement.verdict);
  };
  const press = (/** @type {string} */ key) => {
    typing = { id, text: applyKey(typing.text, key) };
    return app.refresh();
  };
  typeInto((key) => {
    if (!document.querySelector(".gauge")) return false;
    key === "ok" ? accept() : press(key);
    return true;
  });
  const typed = judge();
  const piece = { piece: gauge.piece, value: gauge.value, unit: wordOf("unit", gauge.unit) };
  const pad = h(
    "div",
    { class: "pad" },
    typedLine(check, typing.text, typed, { limits, isMean: false }, ""),
    ruler(limits, typed.judgement),
    keys({ press: (key) => () => press(key), accept, accepts: !typed.problem, isWhole: false }),
  );
  return page(
    { title: gauge.name, back: "#/gauges", className: "gauge", actions: pad },
    gauge.isOutside ? alertLine(t("gauge.outside")) : note(stateWords(gauge)),
    strong(t("gauge.measure", piece)),
  );
}
