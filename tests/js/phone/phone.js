// What a phone keeps when its pages are closed: its database, the counts noted beside it, its
// clock.
import { createHash } from "node:crypto";

import { IDBFactory } from "fake-indexeddb";

import { Page } from "./page.js";

const CHUNK_BYTES = 32;
const WATCHED = ["events", "meta", "photos"];

export class Phone {
  /** seed: where its chance comes from; packs: whether its browser can pack what it sends. */
  constructor({ seed, packs, notes = {} }) {
    Object.assign(this, { seed, packs, notes });
    this.databases = new IDBFactory();
    this.pages = [];
    this.count = 0;
    this.nowMs = 0;
    this.passedMs = 0;
    this.isRead = true;
    this.told = {};
    this.written = {};
    const phone = this;
    this.Date = class extends Date {
      constructor(...when) {
        super(...(when.length > 0 ? when : [phone.nowMs]));
      }

      static now() {
        return phone.nowMs;
      }
    };
  }

  /** What it has noted beside its database of how many records it made. */
  get counts() {
    return this.notes["qcapp.counts"] ?? null;
  }

  /** The number of a new page. */
  openPage(program) {
    return this.pages.push(new Page(this, program)) - 1;
  }

  nextNumber() {
    this.count += 1;
    return this.count;
  }

  /** The same bytes for the same seed, so that a failure comes again. */
  fillWithChance(bytes) {
    for (let at = 0; at < bytes.length; at += CHUNK_BYTES) {
      const chance = createHash("sha256").update(`${this.seed}/${this.nextNumber()}`).digest();
      bytes.set(chance.subarray(0, bytes.length - at), at);
    }
    return bytes;
  }

  /** {store: [[key, value], ...]} of the stores named, of all without names. */
  async readAll(names) {
    const stores = await this.openStores("readonly", names);
    const entries = await Promise.all(Object.entries(stores).map(async ([name, store]) => {
      const [keys, values] = await Promise.all([done(store.getAllKeys()), done(store.getAll())]);
      return [name, keys.map((key, at) => [key, values[at]])];
    }));
    return Object.fromEntries(entries);
  }

  /** Puts in what `readAll` gives. */
  async writeAll(kept) {
    const stores = await this.openStores("readwrite");
    const puts = Object.entries(kept).flatMap(([name, entries]) => entries.map(([key, value]) =>
      done(stores[name].put(value, ...(stores[name].keyPath ? [] : [key])))));
    await Promise.all(puts);
    this.isRead = false;
  }

  /** By a connection of its own, so that it works beside dead pages; a page has made the stores. */
  async openStores(mode, names) {
    if (!this.db) {
      const [{ name }] = await this.databases.databases();
      this.db = await done(this.databases.open(name));
    }
    const wanted = names ?? [...this.db.objectStoreNames];
    const transaction = this.db.transaction(wanted, mode);
    return Object.fromEntries(wanted.map((name) => [name, transaction.objectStore(name)]));
  }

  /** {store: {key: value, or null for one that is gone}} of what is watched, since last asked. */
  async readChanges() {
    if (this.isRead) return {};
    this.isRead = true;
    const stores = await this.openStores("readonly", WATCHED);
    const changes = await Promise.all(WATCHED.map(async (name) =>
      [name, await this.readChangesOf(name, stores[name])]));
    return Object.fromEntries(changes);
  }

  async readChangesOf(name, store) {
    this.told[name] ??= new Map();
    this.written[name] ??= watchKeys(this.db, name);
    // Answered once all that was being written is kept or undone.
    const all = await done(store.getAllKeys());
    const keys = this.written[name].take() ?? new Set([...all, ...this.told[name].keys()]);
    const values = await Promise.all([...keys].map((key) => done(store.get(key))));
    const changes = [...keys].map((key, at) => [key, withoutBytes(values[at]) ?? null]);
    return Object.fromEntries(changes.filter(([key, value]) => this.isNews(name, key, value)));
  }

  isNews(name, key, value) {
    const text = value === null ? undefined : JSON.stringify(value);
    const isNews = this.told[name].get(key) !== text;
    if (text === undefined) this.told[name].delete(key);
    else this.told[name].set(key, text);
    return isNews;
  }
}

/**
 * What is written to a store from now on, by key: to read it all after each job took most of the
 * time of a phone with a thousand records. All of fake-indexeddb's writing, and its undoing, comes
 * through these three.
 */
function watchKeys(db, name) {
  const raw = db._rawDatabase.rawObjectStores.get(name);
  for (const index of raw.rawIndexes.values()) findByValue(index.records);
  const { storeRecord, deleteRecord, clear } = raw;
  // Null: any of them; so at first.
  let keys = null;
  const note = (key) => {
    if (typeof key === "string") keys?.add(key);
    else keys = null;
  };
  raw.storeRecord = (record, ...more) => {
    const key = storeRecord.call(raw, record, ...more);
    note(key);
    return key;
  };
  raw.deleteRecord = (key, ...more) => {
    note(key);
    return deleteRecord.call(raw, key, ...more);
  };
  raw.clear = (...more) => {
    note(null);
    return clear.apply(raw, more);
  };
  return {
    take() {
      const taken = keys;
      keys = new Set();
      return taken;
    },
  };
}

/**
 * Fake-indexeddb looks through a whole index for the entries of a row that is written again; here
 * they are found by the row's key. With thousands of rows that was most of the time.
 */
function findByValue(records) {
  const entries = new Map();
  const note = (entry) => {
    entries.set(entry.value, [...(entries.get(entry.value) ?? []), entry]);
  };
  for (const entry of records.records.getAllRecords()) note(entry);
  const { put, clear } = records;
  records.put = (entry, ...more) => {
    const replaced = put.call(records, entry, ...more);
    note(entry);
    return replaced;
  };
  records.clear = () => {
    entries.clear();
    return clear.call(records);
  };
  records.deleteByValue = (key) => {
    if (typeof key !== "string") throw new Error("rows of phones are deleted one at a time");
    const found = entries.get(key) ?? [];
    for (const entry of found) records.records.delete(entry);
    entries.delete(key);
    return found;
  };
}

/** A photo's row without the photo; anything else as it is. */
function withoutBytes(value) {
  return value?.bytes ? { ...value, bytes: undefined } : value;
}

function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}
