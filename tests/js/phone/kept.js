// A phone's profile as JSON: its database with the shape that it had, and what is noted beside it.
import { webcrypto } from "node:crypto";

const { subtle } = webcrypto;
const SIGNING = { name: "ECDSA", namedCurve: "P-256" };

/** As the browser's own, but its keys can be given out: only of a profile that is to be kept. */
export const GIVING = {
  generateKey: (kind, _, uses) => subtle.generateKey(kind, true, uses),
  exportKey: (...how) => subtle.exportKey(...how),
  sign: (...how) => subtle.sign(...how),
};

/** {version, stores: {name: {keyPath, indexes, entries}}, notes}. */
export async function exportProfile(phone) {
  const entries = await phone.readAll();
  const stores = {};
  for (const [name, rows] of Object.entries(entries)) {
    const store = phone.db.transaction([name]).objectStore(name);
    const indexes = [...store.indexNames].map((one) => store.index(one));
    stores[name] = {
      keyPath: store.keyPath,
      indexes: indexes.map((one) => [one.name, one.keyPath, { multiEntry: one.multiEntry }]),
      entries: await Promise.all(rows.map((row) => pack(row))),
    };
  }
  return { name: phone.db.name, version: phone.db.version, stores, notes: phone.notes };
}

/** The database as it was, made without the app: opening it is then the app's own upgrade. */
export async function buildDatabase(databases, { name, version, stores }) {
  const rows = await unpack(Object.entries(stores).map(([store, { entries }]) => [store, entries]));
  const db = await new Promise((resolve, reject) => {
    const request = databases.open(name, version);
    request.onerror = () => reject(request.error);
    request.onsuccess = () => resolve(request.result);
    request.onupgradeneeded = () => {
      for (const [store, { keyPath, indexes }] of Object.entries(stores)) {
        const made = request.result.createObjectStore(store, { keyPath: keyPath ?? undefined });
        for (const index of indexes) made.createIndex(...index);
      }
    };
  });
  await new Promise((resolve, reject) => {
    const transaction = db.transaction(Object.keys(stores), "readwrite");
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error);
    for (const [store, entries] of rows)
      for (const [key, value] of entries)
        transaction.objectStore(store).put(value, ...(stores[store].keyPath ? [] : [key]));
  });
  db.close();
}

/** JSON of a value that may hold bytes and keys. */
async function pack(value) {
  if (value instanceof ArrayBuffer) return { $buffer: Buffer.from(value).toString("base64") };
  if (ArrayBuffer.isView(value)) return { $bytes: Buffer.from(value).toString("base64") };
  if (value?.constructor?.name === "CryptoKey")
    return { $key: await subtle.exportKey("jwk", value) };
  if (Array.isArray(value)) return Promise.all(value.map((one) => pack(one)));
  if (value === null || typeof value !== "object") return value;
  const parts = Object.entries(value).map(async ([key, one]) => [key, await pack(one)]);
  return Object.fromEntries(await Promise.all(parts));
}

/** The key comes back as the app makes them: it is given out to nobody any more. */
async function unpack(value) {
  if (value?.$buffer !== undefined) return Uint8Array.from(Buffer.from(value.$buffer, "base64")).buffer;
  if (value?.$bytes !== undefined) return Uint8Array.from(Buffer.from(value.$bytes, "base64"));
  if (value?.$key !== undefined)
    return subtle.importKey("jwk", value.$key, SIGNING, false, value.$key.key_ops);
  if (Array.isArray(value)) return Promise.all(value.map((one) => unpack(one)));
  if (value === null || typeof value !== "object") return value;
  const parts = Object.entries(value).map(async ([key, one]) => [key, await unpack(one)]);
  return Object.fromEntries(await Promise.all(parts));
}
