// Phones for the Python tests: one JSON line in, one out. A phone has pages; a job on a page goes
// on until it asks the network for something or ends.
import { createInterface } from "node:readline";

import { GIVING, buildDatabase, exportProfile } from "./kept.js";
import { describe } from "./page.js";
import { Phone } from "./phone.js";
import { compileProgram } from "./program.js";

const JOBS = {
  sync: ({ sync }) => sync.syncNow(),
  enrol: ({ enrol }, { code }) => enrol.enrol(code),
  record: ({ outbox }, { fields }) => outbox.record(fields),
  save_photo: ({ photos }, { base64 }) =>
    photos.savePhoto(Uint8Array.from(Buffer.from(base64, "base64")).buffer),
  send_now: async ({ photo_upload, sync }) => {
    await photo_upload.allowPhotosNow();
    return sync.syncNow();
  },
  list_unsent: ({ records }) => records.listUnsent(),
  export_file: async ({ export_file }) => (await export_file.buildExportFile()).file.text(),
  import_file: ({ export_file }, { text }) => export_file.importFile(new File([text], "unsent")),
};

const programs = new Map();
const phones = new Map();
const profiles = new Map();

function programOf(edits = {}) {
  const key = JSON.stringify(edits);
  if (!programs.has(key)) programs.set(key, compileProgram(edits));
  return programs.get(key);
}

const TASKS = {
  /** All phones are gone; a new run begins. */
  forget() {
    phones.clear();
    profiles.clear();
    return {};
  },
  /**
   * replaces: a phone whose noted counts stay beside this database; profile: what is in it; kept:
   * what `export_profile` gave; gives_keys: so that it can be exported.
   */
  async make_phone({ phone, edits, replaces, profile, kept, gives_keys, meta, ...more }) {
    const made = new Phone({ ...more, notes: { ...phones.get(replaces)?.notes, ...kept?.notes } });
    phones.set(phone, made);
    if (gives_keys) made.subtle = GIVING;
    if (kept) await buildDatabase(made.databases, kept);
    const page = made.openPage(programOf(edits));
    await made.pages[page].modules.db.openDb();
    await made.writeAll(profiles.get(profile) ?? { meta: Object.entries(meta ?? {}) });
    return { stop: { page } };
  },
  open_page({ phone, edits }) {
    return { stop: { page: phones.get(phone).openPage(programOf(edits)) } };
  },
  close_pages({ phone }) {
    for (const page of phones.get(phone).pages) page.die();
    return {};
  },
  drop_connection({ phone, page }) {
    phones.get(phone).pages[page].dropConnection();
    return {};
  },
  async begin({ phone, page, job, ...more }) {
    const on = phones.get(phone).pages[page];
    return { stop: await on.begin(() => JOBS[job](on.modules, more)) };
  },
  async hear({ phone, page, call, answer }) {
    return { stop: await phones.get(phone).pages[page].hear(call, answer) };
  },
  async keep_profile({ phone, profile }) {
    profiles.set(profile, await phones.get(phone).readAll());
    return {};
  },
  async export_profile({ phone }) {
    return { stop: await exportProfile(phones.get(phone)) };
  },
  async put_row({ phone, row }) {
    await phones.get(phone).writeAll({ events: [[row.id, row]] });
    return {};
  },
};

// What a page left without anybody to hear it: a fault of the app or of these tests.
let unheard = null;
process.on("unhandledRejection", (error) => { unheard ??= error; });
process.on("uncaughtException", (error) => { unheard ??= error; });

async function answer({ task, clock, limits, ...question }) {
  const before = phones.get(question.phone);
  if (before) Object.assign(before, clock);
  if (before && limits) Object.assign(before.pages[question.page], limits);
  const said = await TASKS[task](question);
  const phone = phones.get(question.phone);
  const changes = await phone?.readChanges();
  if (unheard) throw unheard;
  return { ...said, changes, counts: phone?.counts };
}

/** A fault is told to the test that meets it; the script goes on for the others. */
async function answerAnyway(line) {
  try {
    return await answer(JSON.parse(line));
  } catch (error) {
    unheard = null;
    return { failed: describe(error) };
  }
}

for await (const line of createInterface({ input: process.stdin })) {
  process.stdout.write(`${JSON.stringify(await answerAnyway(line))}\n`);
}
