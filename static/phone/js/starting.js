// What the start waits for longest, asked for first: the database and the words, while the page's
// other modules are still being read. A script of its own in index.html, before main.js.
import { withStores } from "./store/db.js";
import { readNotedCounts } from "./store/device.js";
import { KNOWN, knownIn } from "./store/local_db.js";
import { COUNTED, countIn } from "./sync/status.js";
import { loadLanguage } from "./ui/words.js";

/**
 * All that the first screen shows, from one transaction.
 * @returns {Promise<Known & {counted: StoredStatus}>}
 */
const readStart = () =>
  withStores([...new Set([...KNOWN, ...COUNTED])], "readonly", async (stores) => {
    const [known, counted] = await Promise.all([knownIn(stores), countIn(stores)]);
    return { ...known, counted };
  });

export const starting = {
  // Before the database is read: it is written after it, so it can never be ahead of what is read.
  noted: readNotedCounts(),
  // On a page without https nothing is kept, so nothing is opened.
  known: isSecureContext ? readStart() : new Promise(() => {}),
  words: loadLanguage(),
};
// What goes wrong is said by main.js, which waits for both.
starting.known.catch(() => {});
starting.words.catch(() => {});
