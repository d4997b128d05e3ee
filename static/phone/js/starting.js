// What the start waits for longest, asked for first: the database and the words, while the page's
// other modules are still being read. A script of its own in index.html, before main.js.
import { readNotedCounts } from "./store/device.js";
import { readKnown } from "./store/local_db.js";
import { loadLanguage } from "./ui/words.js";

export const starting = {
  // Before the database is read: it is written after it, so it can never be ahead of what is read.
  noted: readNotedCounts(),
  // On a page without https nothing is kept, so nothing is opened.
  known: isSecureContext ? readKnown() : new Promise(() => {}),
  words: loadLanguage(),
};
// What goes wrong is said by main.js, which waits for both.
starting.known.catch(() => {});
starting.words.catch(() => {});
