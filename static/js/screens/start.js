// What comes before a walk: a safe address, joining the yard, who inspects, which stove, who made it. And settings.
import { isShort, newDraft } from "../inspection/draft.js";
import { hasCheckCharacter, readSerial } from "../inspection/stove.js";
import { setMeta } from "../store/keep.js";
import { listStoveKeys } from "../store/outbox.js";
import { enrol, sendAllNow, status, syncNow } from "../sync/exchange.js";
import { isFreeNetwork } from "../sync/call.js";
import { nextSerial } from "./home.js";
import { button, h, hasWord, page, pick, row, say, showDay, showTime } from "./view.js";

/** Without a secure context the app could not start again offline, so nothing may be recorded here. */
export function insecureNotice() {
  return page({ title: say("insecure.title") },
    h("p", { class: "strong" }, say("insecure.why")), h("p", null, say("insecure.todo")));
}

/** On an iPhone a tab is wiped after a week without a visit, and the installed app does not see what it kept. */
export function installNotice(code) {
  return page({ title: say("install.title") },
    h("p", { class: "strong" }, say("install.todo")), code && h("p", null, say("install.code"), h("b", { class: "code" }, code)), h("p", null, say("install.why")));
}

/** The app cannot start: its storage did not open, or a file of it is broken. */
export function brokenNotice(error) {
  return page({ title: say("broken.title"), className: "alarm", actions: [button("not_saved.retry", "go", () => location.reload())] },
    h("p", { class: "strong", role: "alert" }, say("broken.todo")), h("p", { class: "note" }, say("not_saved.error", { error: error.message || error.name })));
}

/** Records that this phone once held and no longer has: {lost, last_saved_at}. */
export function lossNotice({ lost, last_saved_at }, go) {
  return page({ title: say("loss.title"), className: "alarm", actions: [button("loss.go", "go", go)] },
    h("p", { class: "strong", role: "alert" }, say("loss.what", { n: lost })),
    last_saved_at && h("p", null, say("loss.when", { day: showDay(last_saved_at), time: showTime(last_saved_at) })), h("p", null, say("loss.todo")));
}

export function joinScreen(app) {
  const code = h("input", { id: "ui-code", class: "code", maxlength: 9, autocomplete: "off", autocapitalize: "characters",
    spellcheck: "false", value: app.joinCode ?? "" });
  const answer = h("p", { class: "note", role: "alert" });
  const join = async (event) => {
    event.preventDefault();
    const typed = code.value.toUpperCase().replace(/[^0-9A-Z]/g, "");
    answer.textContent = say("join.asking");
    try {
      if (typed.length !== 8 || !hasCheckCharacter(typed)) throw new Error(say("join.mistyped"));
      await enrol(typed);
      const sent = await syncNow();
      await app.reload();
      if (!app.reference) throw Object.assign(new Error(), { text_key: sent.text_key });
      app.go("#/who");
    } catch (error) {
      const why = error.text_key ? say(error.text_key) : error.message;
      answer.textContent = say("join.refused", { why });
    }
  };
  const send = h("button", { class: "go", form: "ui-join" }, say("join.go"));
  return page({ title: say("join.title"), back: app.reference && "#/today", actions: [send] },
    h("p", null, say("join.how")),
    h("form", { id: "ui-join", onsubmit: join }, h("label", null, say("join.code"), code)), answer);
}

export function whoScreen(app) {
  const inspectors = app.reference.people.filter((person) => person.is_inspector);
  return page({ title: say("who.title"), back: app.inspector ? "#/today" : null },
    inspectors.length === 0 && h("p", null, say("who.none")),
    h("ul", { class: "rows tall" }, inspectors.map((person) => row({
      text: person.name, pressed: person.code === app.inspector,
      onclick: () => app.chooseInspector(person.code),
    }))));
}

const tradesOf = (compiled) => [...new Set(compiled.steps.map((step) => step.trade))];
const wordOf = (family, name) => (hasWord(`${family}.${name}`) ? say(`${family}.${name}`) : name);

/** Crew as recorded: the artisan of each step, by the trade of the step; unknown ones are left out. */
export function crewOfSteps(compiled, byTrade) {
  const known = compiled.steps.filter((step) => byTrade[step.trade]);
  return Object.fromEntries(known.map((step) => [step.id, byTrade[step.trade]]));
}

async function formFor(app, batch, checklist) {
  const { compiled } = checklist;
  const trades = tradesOf(compiled);
  const given = Object.fromEntries(trades.map((trade) => [trade, batch.crew?.[trade] ?? null]));
  // Without the sign that a tag ends in: with it, the proposal would fit without a look at the tag.
  return { batch, checklist, crew: given, serial: await nextSerial(app, batch, compiled.stage) };
}

function tradeChoice(app, { crew }, trade) {
  const people = app.reference.people.filter((person) => person.trades.includes(trade));
  return h("label", { class: "side" }, wordOf("trade", trade),
    h("select", { id: `ui-trade-${trade}`, onchange: ({ target }) => { crew[trade] = target.value || null; } },
      [{ code: "", name: say("next.unknown") }, ...people].map(({ code, name }) => h("option", { value: code, selected: code === (crew[trade] ?? "") }, name))));
}

function stageChoice(app, batch, list) {
  return page({ title: say("next.stage"), back: "#/today" },
    h("ul", { class: "rows tall" }, list.map((checklist) => row({
      text: pick(checklist.compiled.title),
      onclick: async () => app.refresh({ form: await formFor(app, batch, checklist) }),
    }))));
}

async function startWalk(app, form) {
  const stove = readSerial(form.serial, form.batch);
  const { compiled, hash } = form.checklist;
  const key = `${compiled.stage}/${stove}`;
  if (!stove) return app.refresh({ form: { ...form, trouble: say("next.no_serial") } });
  const taken = [...await listStoveKeys(form.batch.code), ...(await app.listPaused()).map((draft) => draft.key)];
  if (taken.includes(key)) {
    return app.refresh({ form: { ...form, trouble: say("next.taken", { stove }) } });
  }
  return app.start(newDraft({ compiled, hash, batch: form.batch, stove, inspector: app.inspector,
    crew: crewOfSteps(compiled, form.crew), started_at: app.now() }));
}

export async function nextScreen(app) {
  const batch = app.batch(app.batchCode());
  if (!batch) return page({ title: say("next.title"), back: "#/today" }, h("p", null, say("today.no_batch")));
  const list = app.checklistsOf(batch);
  if (app.form?.batch.code !== batch.code) app.form = null;
  if (!app.form && list.length !== 1) return stageChoice(app, batch, list);
  app.form ??= await formFor(app, batch, list[0]);
  const { form } = app;
  const look = h("p", { id: "ui-look", class: "strong", role: "status" });
  const tellLook = () => {
    const { stage } = form.checklist.compiled;
    const stove = readSerial(form.serial, batch);
    look.textContent = stove && batch.sample?.stage === stage ? say(isShort(batch, stage, stove) ? "next.short" : "next.sampled") : "";
  };
  const serial = h("input", { id: "ui-serial", class: "code", maxlength: 40, autocomplete: "off", spellcheck: "false",
    value: form.serial, oninput: (event) => { form.serial = event.target.value; tellLook(); } });
  tellLook();
  return page({ title: say("next.title"), back: "#/today", actions: [button("next.start", "go", () => startWalk(app, form))] },
    h("label", null, say("next.serial"), serial), look,
    form.trouble && h("p", { class: "note", role: "alert" }, form.trouble),
    h("p", null, say("next.batch", { batch: batch.title ?? batch.code, size: wordOf("size", batch.size) })),
    h("h2", null, say("next.crew")),
    tradesOf(form.checklist.compiled).map((trade) => tradeChoice(app, form, trade)));
}

/** Whether photos wait for Wi-Fi, and what this phone can know of its network. */
function photoSettings(app, { is_wifi_only, photos }) {
  return [h("h2", null, say("settings.photos")),
    photos.refused > 0 && h("p", { class: "note" }, say("settings.photos_refused", { n: photos.refused })),
    h("ul", { class: "rows" }, row({ text: say("settings.wifi_only"), pressed: Boolean(is_wifi_only), onclick: () => setMeta("is_wifi_only", !is_wifi_only).then(() => app.refresh()),
      under: is_wifi_only && !isFreeNetwork(navigator.connection) && say("settings.network_costly") })),
    photos.waiting + photos.refused > 0 && button("settings.photos_send", "plain wide", async () => app.refresh({ sent: await sendAllNow() }))];
}

export async function settingsScreen(app) {
  const now = await status();
  const at = now.last_contact_at;
  const facts = { phone: now.device_name ?? "", unsent: String(now.unsent), contact: at ? `${showDay(at)}, ${showTime(at)}` : "", build: app.build,
    storage: say(now.protected ? "settings.protected" : "settings.not_protected") };
  return page({ title: say("settings.title"), back: "#/today" },
    h("h2", null, say("caution.title")),
    h("ul", { class: "cautions" }, ["pass", "monoxide", "hot", "load"].map((key) => h("li", null, say(`caution.${key}`)))),
    photoSettings(app, now), h("a", { class: "line", href: "#/handover" }, say("handover.title")),
    h("h2", null, say("settings.about")),
    h("dl", null, Object.entries(facts).map(([key, value]) => [h("dt", null, say(`settings.${key}`)), h("dd", null, value)])));
}
