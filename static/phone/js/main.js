// Starts the app: language, what is known, the inspection that was open, then the first screen.
import { app } from "./app.js";
import { findLoss, markLoss } from "./store/device.js";
import { getChecklist, getMeta, listDrafts } from "./store/local_db.js";
import { onChange } from "./store/outbox.js";
import { showWarning } from "./ui/feedback.js";
import { draftRoute } from "./ui/routes.js";
import { loadLanguage, t } from "./ui/words.js";
import { brokenNotice, insecureNotice, installNotice, lossNotice } from "./screens/notices.js";
import { listenForBack, preloadScreens, readRoute, show, showNotice } from "./router.js";

/**
 * The browser can lose its store without a word; whoever inspects must hear of it before going on.
 */
async function showLoss() {
  const loss = await findLoss();
  if (!loss) return;
  await new Promise((resolve) => showNotice(lossNotice(loss, () => resolve(null))));
  await markLoss({ is_seen: true });
}

async function reopenDraft() {
  const open = (await listDrafts()).find((draft) => draft.is_open);
  if (!open || !app.reference) return;
  app.draft = open;
  app.compiled = await getChecklist(open.checklist_hash);
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

async function boot() {
  // The phone's own language first: what cannot start must be said too.
  await loadLanguage();
  if (!isSecureContext) return showNotice(insecureNotice());
  await app.reload();
  const chosen = await getMeta("language");
  if (chosen) await loadLanguage(chosen);
  if (navigator.standalone === false && !app.reference)
    return showNotice(installNotice(readRoute().joinCode));
  await reopenDraft();
  await showLoss();
  listen();
  await show(app);
  preloadScreens();
  const { startSync } = await import("./sync/sync.js");
  return startSync();
}

boot().catch((error) => showNotice(brokenNotice(error)));
