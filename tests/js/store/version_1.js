// A phone's database as version 1 made it, kept here as it was; with records that wait.
const RECORDS = 40;

/** @param {IDBDatabase} db */
function makeVersion1(db) {
  db.createObjectStore("meta");
  db.createObjectStore("reference");
  db.createObjectStore("drafts", { keyPath: "key" });
  const events = db.createObjectStore("events", { keyPath: "id" });
  events.createIndex("key", "key");
  events.createIndex("state", "state");
  events.createIndex("captured_at", "event.captured_at");
  events.createIndex("batch", "event.batch");
  events.createIndex("photo", "event.photos", { multiEntry: true });
  events.createIndex("turn", ["state", "event.dev_seq"]);
  const photos = db.createObjectStore("photos", { keyPath: "sha256" });
  photos.createIndex("state", "state");
  photos.createIndex("sent_at", "sent_at");
}

/** As it was then: nothing that came later. */
function makeEvent(n, deviceId) {
  const digits = (width) => String(n).padStart(width, "0");
  const disposition = { kind: n % 5 ? "release" : "rework" };
  return {
    id: `id-${digits(4)}`, kind: "inspection", device_id: deviceId, dev_seq: n, batch: "B1",
    stage: "finished", stove: `S${n}`, captured_at: `2026-11-25T08:00:${digits(2)}.000Z`,
    photos: [], corrects: null, checklist_hash: "0".repeat(64), hash: digits(64),
    body: { answers: {}, verdicts: {}, crew: {}, disposition },
  };
}

/** Every second record waits, every fifth stove is in rework; a photo and a draft beside them. */
function fillVersion1(stores, deviceId) {
  for (let n = 1; n <= RECORDS; n += 1) {
    const event = makeEvent(n, deviceId);
    const sent = n % 2 ? { state: "unsent" } : { state: "sent", outcome: "created", seq: n };
    stores.events.put({ id: event.id, key: `finished/S${n}`, origin: "own", event, ...sent });
  }
  stores.meta.put(deviceId, "device_id");
  stores.meta.put(RECORDS, "dev_seq");
  stores.meta.put("a token", "token");
  stores.drafts.put({ key: "finished/S99", stove: "S99", answers: { a: { values: ["3"] } }, is_open: true });
  stores.photos.put({
    sha256: "p".repeat(64), bytes: new ArrayBuffer(8), state: "unsent",
    saved_at: "2026-11-25T08:00:00.000Z",
  });
  const reference = {
    tag: "t1", yard: { name: "Y" }, people: [], batches: [], checklists: [],
    drawings: { a: "<svg/>" },
  };
  stores.reference.put(reference, "current");
}

/** Opens it by the browser's own call; nothing closes it when another version is asked for. */
export function openVersion1(databases, deviceId) {
  return new Promise((resolve, reject) => {
    const request = databases.open("qcapp", 1);
    request.onerror = () => reject(request.error);
    request.onupgradeneeded = () => {
      makeVersion1(request.result);
      const { transaction } = request;
      const names = [...request.result.objectStoreNames];
      const stores = Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)]));
      fillVersion1(stores, deviceId);
    };
    request.onsuccess = () => resolve(request.result);
  });
}

/** {store: rows} of version 1's stores, whatever the version is now. */
export async function readStores(db) {
  const names = ["meta", "reference", "drafts", "events", "photos"];
  const transaction = db.transaction(names, "readonly");
  const ask = (request) => new Promise((resolve) => { request.onsuccess = () => resolve(request.result); });
  const all = names.map(async (name) => {
    const store = transaction.objectStore(name);
    const [keys, rows] = await Promise.all([ask(store.getAllKeys()), ask(store.getAll())]);
    return [name, { keys, rows }];
  });
  return Object.fromEntries(await Promise.all(all));
}
