// Starts the app: language, what is known, the inspection that was open, then the first screen.
import { app } from "./app.js";
import { onChange } from "./store/changes.js";
import { findLoss, markLoss, resumeDevice } from "./store/device.js";
import { findShown, getChecklist } from "./store/local_db.js";
import { showWarning } from "./ui/feedback.js";
import { draftRoute } from "./ui/routes.js";
import { loadLanguage, t } from "./ui/words.js";
import { dayCounted } from "./screens/today.js";
import { brokenNotice, insecureNotice, installNotice, lossNotice } from "./screens/notices.js";
import { starting } from "./starting.js";
import { listenForBack, preloadScreens, readRoute, show, showNotice } from "./router.js";

/**
 * The browser can lose its store without a word; whoever inspects must hear of it before going on.
 * @param {Known} known
 */
async function showLoss({ meta }) {
  const loss = resumeDevice(starting.noted, meta) ? meta.loss : await findLoss();
  if (!loss || loss.is_seen) return;
  await new Promise((resolve) => showNotice(lossNotice(loss, () => resolve(null))));
  await markLoss({ is_seen: true });
}

/** @param {Known} known */
async function reopenDraft({ drafts }) {
  const open = drafts.find((draft) => draft.is_open);
  // A link to practise a draft was opened: the stove in hand waits among the paused ones.
  const isPractice = readRoute().name === "practice";
  if (!open || !app.reference || isPractice) return;
  app.draft = open;
  app.compiled = await getChecklist(open.checklist_hash);
  app.shown = await findShown(open.checklist_hash);
  history.replaceState(null, "", draftRoute(open));
}

function listen() {
  listenForBack();
  addEventListener("hashchange", () => show(app));
  document.addEventListener("qcapp-newer-version", () => showWarning(t("not_saved.VersionError")));
  document.addEventListener("qcapp-version", () => {
    app.hasUpdate = true;
    app.repaint();
  });
  onChange(async () => {
    await app.reload();
    app.repaint();
  });
}

// Counting the day of a phone with very many records must not keep back the exchange for longer.
const COUNTED_MS = 2000;

const nextFrame = () =>
  new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));

async function boot() {
  // The phone's own language first: what cannot start must be said too.
  await starting.words;
  if (!isSecureContext) return showNotice(insecureNotice());
  const known = await starting.known;
  app.take(known);
  if (known.meta.language) await loadLanguage(known.meta.language);
  if (navigator.standalone === false && !app.reference)
    return showNotice(installNotice(readRoute().joinCode));
  await reopenDraft(known);
  await showLoss(known);
  listen();
  await app.showFirst(known);
  // An exchange draws the screen again: not before it has been seen once.
  await nextFrame();
  // What else is loaded and exchanged would hold up the figures that a person waits for.
  await Promise.race([dayCounted(), new Promise((resolve) => setTimeout(resolve, COUNTED_MS))]);
  preloadScreens();
  const { startSync } = await import("./sync/sync.js");
  return startSync();
}

boot().catch((error) => showNotice(brokenNotice(error)));
