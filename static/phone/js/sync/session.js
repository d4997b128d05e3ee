// What this page remembers from one exchange to the next. A new page starts afresh.

const FIRST_BATCH = 50;

/** @type {SyncSession} */
export const session = {
  hello: /** @type {any} */ (null),
  greetedAt: -Infinity,
  batchSize: FIRST_BATCH,
  failures: 0,
  misses: 0,
  lastResult: null,
  arePhotosAllowed: false,
};
