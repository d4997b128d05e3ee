// What comes before a walk: a safe address, joining the yard, who inspects, which stove, who made it. And settings.
import { isShort, newDraft } from "../inspection/draft.js";
import { hasCheckCharacter, proposeSerial, readSerial } from "../inspection/stove.js";
import { getMeta, hashPin, setMeta } from "../store/local_db.js";
import { listStoveKeys } from "../store/outbox.js";
import { enrol, status, syncNow } from "../sync/sync.js";
import { isFreeNetwork, packExportFile, takeExportFile, wishPhotos } from "../sync/http.js";
import {
  button,
  draftRoute,
  h,
  languageChoice,
  page,
  pick,
  row,
  say,
  showDay,
  showTime,
  wordOf,
} from "./view.js";

/** Without a secure context the app could not start again offline, so nothing may be recorded here. */
export function insecureNotice() {
  return page(
    { title: say("insecure.title") },
    h("p", { class: "strong" }, say("insecure.why")),
    h("p", null, say("insecure.todo")),
  );
}

/** On an iPhone a tab is wiped after a week without a visit, and the installed app does not see what it kept. */
export function installNotice(code) {
  return page(
    { title: say("install.title") },
    h("p", { class: "strong" }, say("install.todo")),
    code && h("p", null, say("install.code"), h("b", { class: "code" }, code)),
    h("p", null, say("install.why")),
  );
}

/** The app cannot start: its storage did not open, or a file of it is broken. */
export function brokenNotice(error) {
  return page(
    {
      title: say("broken.title"),
      className: "alarm",
      actions: [button("not_saved.retry", "go", () => location.reload())],
    },
    h("p", { class: "strong", role: "alert" }, say("broken.todo")),
    h("p", { class: "note" }, say("not_saved.error", { error: error.message || error.name })),
  );
}

/** Nothing was lost on the screen, but the phone did not keep it. retry tries once more, back shows the form. */
export function notSavedNotice({ error, retry, back }) {
  return page(
    {
      title: say("not_saved.title"),
      className: "alarm",
      actions: [button("not_saved.back", "plain", back), button("not_saved.retry", "go", retry)],
    },
    h("p", { class: "strong", role: "alert" }, say("not_saved.what")),
    h("p", null, wordOf("not_saved", error.name, say("not_saved.todo"))),
    error.name === "QuotaExceededError" &&
      h("a", { class: "line", href: "#/export" }, say("export.title")),
    h("p", { class: "note" }, say("not_saved.error", { error: error.message || error.name })),
  );
}

/** Records that this phone once held and no longer has: {lost, last_saved_at}. */
export function lossNotice({ lost, last_saved_at }, go) {
  return page(
    { title: say("loss.title"), className: "alarm", actions: [button("loss.go", "go", go)] },
    h("p", { class: "strong", role: "alert" }, say("loss.what", { n: lost })),
    last_saved_at &&
      h(
        "p",
        null,
        say("loss.when", { day: showDay(last_saved_at), time: showTime(last_saved_at) }),
      ),
    h("p", null, say("loss.todo")),
  );
}

/** Asks for a code in the words of a family; take(input) goes on, or gives the words that say why not. */
function codePage({ family, back, params }, attrs, take, more) {
  const code = h("input", {
    id: "ui-code",
    class: "code",
    autocomplete: "off",
    spellcheck: "false",
    ...attrs,
  });
  const answer = h("p", { class: "note", role: "alert" });
  const send = async (event) => {
    event.preventDefault();
    answer.textContent = say(`${family}.asking`);
    answer.textContent = (await take(code)) ?? "";
  };
  return page(
    {
      title: say(`${family}.title`, params),
      back,
      actions: [h("button", { class: "go", form: "ui-form" }, say(`${family}.go`))],
    },
    h("p", null, say(`${family}.how`)),
    h("form", { id: "ui-form", onsubmit: send }, h("label", null, say(`${family}.code`), code)),
    answer,
    more,
  );
}

export function joinScreen(app) {
  const join = async ({ value }) => {
    const typed = value.toUpperCase().replace(/[^0-9A-Z]/g, "");
    try {
      if (typed.length !== 8 || !hasCheckCharacter(typed)) throw new Error(say("join.mistyped"));
      await enrol(typed);
      const sent = await syncNow();
      await app.reload();
      if (!app.reference) throw Object.assign(new Error(), { text_key: sent.text_key });
      app.go("#/who");
    } catch (error) {
      return say("join.refused", { why: error.text_key ? say(error.text_key) : error.message });
    }
  };
  return codePage(
    { family: "join", back: app.reference && "#/today" },
    { maxlength: 9, autocapitalize: "characters", value: app.joinCode ?? "" },
    join,
    languageChoice(app),
  );
}

export async function whoScreen(app) {
  const inspectors = app.reference.people.filter((person) => person.is_inspector);
  const pins = (await getMeta("pins")) ?? {};
  return page(
    { title: say("who.title"), back: app.inspector && "#/today" },
    inspectors.length === 0 && h("p", null, say("who.none")),
    h(
      "ul",
      { class: "rows tall" },
      inspectors.map(({ code, name }) => {
        const { hash, removed_at } = pins[code] ?? {};
        return row({
          text: name,
          pressed: code === app.inspector,
          onclick: () => (hash ? app.go(`#/pin/${code}`) : app.chooseInspector(code)),
          under: hash
            ? say("who.pin")
            : removed_at && say("who.pin_removed", { day: showDay(removed_at) }),
        });
      }),
    ),
    app.inspector &&
      !pins[app.inspector]?.hash &&
      h(
        "a",
        { class: "line", href: `#/pin/${app.inspector}` },
        say("new_pin.title", { name: app.personName(app.inspector) }),
      ),
    languageChoice(app),
  );
}

/** Asks for the PIN of an inspector, or for a first one. Of a removed one the day stays: {removed_at}. */
export async function pinScreen(app, code) {
  const pins = await getMeta("pins");
  const { salt, hash } = pins?.[code] ?? {};
  const keepPin = (pin) => app.attempt(() => setMeta("pins", { ...pins, [code]: pin }));
  const take = async (input) => {
    if (!/^\d{4}$/.test(input.value)) return say("pin.four");
    const typed = await hashPin(input.value, salt);
    input.select();
    if (hash && hash !== typed.hash) return say("pin.wrong");
    if (hash || (await keepPin(typed))) app.chooseInspector(code);
  };
  const remove = async () => (await keepPin({ removed_at: app.now() })) && app.go("#/who");
  return codePage(
    { family: hash ? "pin" : "new_pin", back: "#/who", params: { name: app.personName(code) } },
    { maxlength: 4, inputmode: "numeric" },
    take,
    hash &&
      h(
        "details",
        null,
        h("summary", null, say("pin.forgotten")),
        h("p", null, say("pin.remove_why")),
        button("pin.remove", "plain", remove),
      ),
  );
}

const tradesOf = (compiled) => [...new Set(compiled.steps.map((step) => step.trade))];

/** Crew as recorded: the artisan of each step, by the trade of the step; unknown ones are left out. */
export function crewOfSteps(compiled, byTrade) {
  const known = compiled.steps.filter((step) => byTrade[step.trade]);
  return Object.fromEntries(known.map((step) => [step.id, byTrade[step.trade]]));
}

/** Keys of the stoves of a batch that are recorded, or paused on this phone. */
async function takenKeys(app, batch) {
  return [...(await listStoveKeys(batch.code)), ...(await app.listPaused()).map(({ key }) => key)];
}

async function formFor(app, batch, checklist) {
  const { compiled } = checklist;
  const trades = tradesOf(compiled);
  const given = Object.fromEntries(trades.map((trade) => [trade, batch.crew?.[trade] ?? null]));
  // Without the sign that a tag ends in: with it, the proposal would fit without a look at the tag.
  const stage = `${compiled.stage}/`;
  const serial = proposeSerial(
    stage + (batch.serial_prefix ?? ""),
    await takenKeys(app, batch),
  ).slice(stage.length);
  return { batch, checklist, crew: given, serial };
}

function tradeChoice(app, { crew }, trade) {
  const people = app.reference.people.filter((person) => person.trades.includes(trade));
  return h(
    "label",
    { class: "side" },
    wordOf("trade", trade),
    h(
      "select",
      {
        id: `ui-trade-${trade}`,
        onchange: ({ target }) => {
          crew[trade] = target.value || null;
        },
      },
      [{ code: "", name: say("next.unknown") }, ...people].map(({ code, name }) =>
        h("option", { value: code, selected: code === (crew[trade] ?? "") }, name),
      ),
    ),
  );
}

function checklistChoice(title, list, choose, words) {
  return page(
    { title: say(title), back: "#/today" },
    words && h("p", null, say(words)),
    h(
      "ul",
      { class: "rows tall" },
      list.map((checklist) =>
        row({ text: pick(checklist.compiled.title), onclick: () => choose(checklist) }),
      ),
    ),
  );
}

/** A stove walked round to learn how: its draft is never stored (app.keep), and Save makes no record of it. */
export function practiceScreen(app) {
  const list = app.reference?.checklists ?? [];
  return checklistChoice(
    "practice.mark",
    list,
    (checklist) =>
      app.start({
        ...newDraft({
          ...checklist,
          batch: { size: checklist.compiled.sizes[0] },
          stove: say("practice.stove"),
          started_at: app.now(),
        }),
        key: "practice",
        is_practice: true,
      }),
    list[0] ? "practice.how" : "practice.none",
  );
}

async function startWalk(app, form) {
  const stove = readSerial(form.serial, form.batch);
  const { compiled, hash } = form.checklist;
  const key = `${compiled.stage}/${stove}`;
  if (!stove) return app.refresh({ form: { ...form, trouble: say("next.no_serial") } });
  if ((await takenKeys(app, form.batch)).includes(key))
    return app.refresh({ form: { ...form, trouble: say("next.taken", { stove }) } });
  return app.start(
    newDraft({
      compiled,
      hash,
      batch: form.batch,
      stove,
      inspector: app.inspector,
      crew: crewOfSteps(compiled, form.crew),
      started_at: app.now(),
    }),
  );
}

export async function nextScreen(app) {
  const batch = app.batch(app.batchCode());
  if (!batch)
    return page({ title: say("next.title"), back: "#/today" }, h("p", null, say("today.no_batch")));
  const list = app.checklistsOf(batch);
  if (app.form?.batch.code !== batch.code) app.form = null;
  if (!app.form && list.length !== 1)
    return checklistChoice("next.stage", list, async (checklist) =>
      app.refresh({ form: await formFor(app, batch, checklist) }),
    );
  app.form ??= await formFor(app, batch, list[0]);
  const { form } = app;
  const look = h("p", { id: "ui-look", class: "strong", role: "status" });
  const tellLook = () => {
    const { stage } = form.checklist.compiled;
    const stove = readSerial(form.serial, batch);
    look.textContent =
      stove && batch.sample?.stage === stage
        ? say(isShort(batch, stage, stove) ? "next.short" : "next.sampled")
        : "";
  };
  const serial = h("input", {
    id: "ui-serial",
    class: "code",
    maxlength: 40,
    autocomplete: "off",
    spellcheck: "false",
    value: form.serial,
    oninput: (event) => {
      form.serial = event.target.value;
      tellLook();
    },
  });
  tellLook();
  return page(
    {
      title: say("next.title"),
      back: "#/today",
      actions: [button("next.start", "go", () => startWalk(app, form))],
    },
    h("label", null, say("next.serial"), serial),
    look,
    form.trouble && h("p", { class: "note", role: "alert" }, form.trouble),
    h(
      "p",
      null,
      say("next.batch", { batch: batch.title ?? batch.code, size: wordOf("size", batch.size) }),
    ),
    h("h2", null, say("next.crew")),
    tradesOf(form.checklist.compiled).map((trade) => tradeChoice(app, form, trade)),
  );
}

/** Unsent work as a file: to save, to share, to take in. It stays unsent here until the server names it. */
export function exportScreen(app) {
  const said = h("p", { role: "status", class: "note" });
  const tell = (key, work) =>
    work.then(
      (found) => {
        said.textContent = say(key, found);
      },
      (error) => {
        said.textContent = say(error.text_key ?? "not_saved.error", {
          error: error.message || error.name,
        });
      },
    );
  const hand = (way) => () =>
    tell(
      "export.saved",
      packExportFile().then(async (packed) => {
        await way(packed.file);
        return packed;
      }),
    );
  const save = (file) => h("a", { href: URL.createObjectURL(file), download: file.name }).click();
  // Browsers share only files with some endings; that of plain text is among them, ours is not.
  const asText = (file) => new File([file], `${file.name}.txt`, { type: "text/plain" });
  const share = (file) => navigator.share({ files: [asText(file)] });
  const canShare = navigator.canShare?.({ files: [asText(new File([], "a"))] });
  return page(
    { title: say("export.title"), back: app.draft ? draftRoute(app.draft) : "#/today" },
    h("p", null, say("export.how")),
    button("export.save", "plain wide", hand(save)),
    canShare && button("export.share", "plain wide", hand(share)),
    said,
    h("h2", null, say("export.other")),
    h("p", null, say("export.other_how")),
    h(
      "label",
      { class: "plain", for: "ui-take" },
      say("export.take"),
      h("input", {
        type: "file",
        id: "ui-take",
        class: "beside",
        onchange: ({ target }) => tell("export.taken", takeExportFile(target.files[0])),
      }),
    ),
  );
}

/** Whether photos wait for Wi-Fi, and what this phone can know of its network. */
function photoSettings(app, { is_wifi_only, photos }) {
  return [
    h("h2", null, say("settings.photos")),
    photos.refused > 0 &&
      h("p", { class: "note" }, say("settings.photos_refused", { n: photos.refused })),
    h(
      "ul",
      { class: "rows" },
      row({
        text: say("settings.wifi_only"),
        pressed: Boolean(is_wifi_only),
        onclick: () => setMeta("is_wifi_only", !is_wifi_only).then(() => app.refresh()),
        under:
          is_wifi_only && !isFreeNetwork(navigator.connection) && say("settings.network_costly"),
      }),
    ),
    photos.waiting + photos.refused > 0 &&
      button("settings.photos_send", "plain wide", async () =>
        app.refresh({ sent: await wishPhotos().then(syncNow) }),
      ),
  ];
}

export async function settingsScreen(app) {
  const now = await status();
  const at = now.last_contact_at;
  const facts = {
    phone: now.device_name ?? "",
    unsent: String(now.unsent),
    contact: at ? `${showDay(at)}, ${showTime(at)}` : "",
    build: app.build,
    storage: say(now.protected ? "settings.protected" : "settings.not_protected"),
  };
  return page(
    { title: say("settings.title"), back: "#/today" },
    h("h2", null, say("caution.title")),
    h(
      "ul",
      { class: "cautions" },
      ["pass", "monoxide", "hot", "load"].map((key) => h("li", null, say(`caution.${key}`))),
    ),
    photoSettings(app, now),
    h("a", { class: "line", href: "#/export" }, say("export.title")),
    h("h2", null, say("settings.about")),
    h(
      "dl",
      null,
      Object.entries(facts).map(([key, value]) => [
        h("dt", null, say(`settings.${key}`)),
        h("dd", null, value),
      ]),
    ),
  );
}
