// What this page remembers from one exchange to the next. A new page starts afresh.
import { FIRST_BATCH } from "./pace.js";

/** @type {SyncSession} */
export const session = {
  greeting: null,
  batchSize: FIRST_BATCH,
  failures: 0,
  misses: 0,
  lastResult: null,
  arePhotosAllowed: false,
};
