// One page of the app on a phone: the phone's own modules, and around them a browser of which a
// test decides when it answers, dies or is full.
import { createHash, webcrypto } from "node:crypto";

import { IDBKeyRange } from "fake-indexeddb";

// Time limits (a call's, the opening of the database) pass only when a test says so; short pauses
// pass at once.
const SHORT_MS = 1000;
const STUCK_MS = 60_000;

export class Page {
  /** program: what compileProgram gives; phone: what lives on when the page is closed. */
  constructor(phone, program) {
    this.phone = phone;
    this.isDead = false;
    this.stepsLeft = Infinity;
    this.fullFor = 0;
    this.calls = new Map();
    this.transactions = new Set();
    this.died = new Promise((resolve) => { this.tellDeath = resolve; });
    this.modules = program(this.surround());
  }

  // --- What a test does with a page

  /** Starts a job (a promise) and gives where it stops: at {call}, or with {value} or {error}. */
  begin(work) {
    const job = work().then((value) => ({ value }), (error) => ({ error: describe(error) }));
    return this.goOn(job);
  }

  /** The call's answer: {status, headers, text}, null when none came, or "timed out". */
  hear(id, answer) {
    const { job, resolve, reject, timer } = this.calls.get(id);
    this.calls.delete(id);
    if (answer === "timed out") timer();
    else if (!answer || isRedirect(answer)) reject(new TypeError("network"));
    else resolve(answerOf(answer));
    return this.goOn(job);
  }

  async goOn(job) {
    const called = new Promise((resolve) => { this.tellCall = resolve; });
    let timer;
    const stuck = new Promise((_, reject) => {
      timer = setTimeout(() => reject(new Error("the page neither calls nor ends")), STUCK_MS);
    });
    const stop = await Promise.race([called, job, this.died, stuck]);
    clearTimeout(timer);
    if (stop.call) this.calls.get(stop.call.id).job = job;
    return this.isDead ? { killed: true } : stop;
  }

  /** The page is gone: what it has not committed is undone, and it reaches nothing any more. */
  die() {
    this.isDead = true;
    for (const transaction of this.transactions) undo(transaction);
    this.tellDeath({});
  }

  /** As Safari does it: nobody is told, and every later transaction throws. */
  dropConnection() {
    this.db?.close();
  }

  // --- The browser around it

  surround() {
    const { phone } = this;
    return {
      indexedDB: { open: (name, version) => this.open(name, version) },
      IDBKeyRange,
      localStorage: {
        getItem: (name) => phone.notes[name] ?? null,
        setItem: (name, text) => { if (!this.isDead) phone.notes[name] = text; },
      },
      fetch: (path, wish) => this.fetch(path, wish),
      crypto: {
        getRandomValues: (bytes) => phone.fillWithChance(bytes),
        subtle: { ...SUBTLE, ...phone.subtle },
      },
      Date: phone.Date,
      performance: { now: () => phone.passedMs },
      setTimeout: (work, ms) => this.wait(work, ms),
      clearTimeout: () => {},
      // No locks: two tabs may both send, and the server must bear it.
      navigator: {
        storage: { estimate: async () => ({ quota: 0, usage: 0 }), persist: async () => true },
        serviceWorker: { controller: { postMessage: () => {} } },
      },
      document: { hidden: false, dispatchEvent: () => {} },
      location: { hostname: "yard.example" },
      CompressionStream: phone.packs ? CompressionStream : undefined,
    };
  }

  open(name, version) {
    const request = this.phone.databases.open(name, version);
    request.addEventListener("success", () => this.watch(request.result));
    return request;
  }

  /** Counts the page's steps at the database, to stop it before or after any commit. */
  watch(db) {
    this.db = db;
    const begin = db.transaction.bind(db);
    db.transaction = (names, mode, options) => {
      this.step();
      if (this.isDead) throw new DOMException("the page is gone", "NotAllowedError");
      const transaction = begin(names, mode, options);
      this.transactions.add(transaction);
      transaction.addEventListener("abort", () => this.transactions.delete(transaction));
      transaction.addEventListener("complete", () => {
        this.transactions.delete(transaction);
        if (mode === "readwrite") this.phone.isRead = false;
        this.step();
      });
      if (mode === "readwrite" && this.fullFor > 0) this.fill(transaction);
      return transaction;
    };
  }

  step() {
    this.stepsLeft -= 1;
    if (this.stepsLeft <= 0 && !this.isDead) this.die();
  }

  /** No room: as in a browser, the transaction is aborted once something was to be written. */
  fill(transaction) {
    this.fullFor -= 1;
    queueMicrotask(() => transaction._abort("QuotaExceededError"));
  }

  wait(work, ms) {
    if (ms < SHORT_MS) setImmediate(work);
    else this.lastTimer = work;
  }

  fetch(path, { method, headers, body, signal }) {
    return new Promise((resolve, reject) => {
      if (this.isDead) return;
      const id = this.phone.nextNumber();
      this.calls.set(id, { resolve, reject, timer: this.lastTimer });
      signal.addEventListener("abort", () => reject(signal.reason));
      const base64 = body && Buffer.from(body).toString("base64");
      this.tellCall({ call: { id, method, path, headers, base64 } });
    });
  }
}

/** Keys are Node's own, so chance is in them: nothing that a test compares holds one. */
const SUBTLE = {
  digest: async (_, bytes) => createHash("sha256").update(Buffer.from(bytes)).digest(),
  generateKey: (...how) => webcrypto.subtle.generateKey(...how),
  exportKey: (...how) => webcrypto.subtle.exportKey(...how),
  sign: (...how) => webcrypto.subtle.sign(...how),
};

/** One that has ended, of which the page was not told yet, cannot be aborted: nothing is left of it. */
function undo(transaction) {
  try {
    transaction.abort();
  } catch (error) {
    if (error.name !== "InvalidStateError") throw error;
  }
}

const isRedirect = ({ status }) => status >= 300 && status < 400;

export const describe = ({ name, message, text_key, stack }) => ({ name, message, text_key, stack });

function answerOf({ status, headers, text }) {
  return new Response([204, 304].includes(status) ? null : text, { status, headers });
}
