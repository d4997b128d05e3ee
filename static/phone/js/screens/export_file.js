// Unsent work as a file: to save, to share, to take in. It stays unsent here until the server names
// it.
import { buildExportFile, importFile } from "../sync/export_file.js";
import { h } from "../ui/dom.js";
import { button, page } from "../ui/page.js";
import { draftRoute } from "../ui/routes.js";
import { t } from "../ui/words.js";

// Browsers share only files of some types; plain text is among them.
const SHARED_TYPE = "text/plain";

/** @param {File} file */
function save(file) {
  h("a", { href: URL.createObjectURL(file), download: file.name }).click();
}

/** @param {File} file */
function share(file) {
  const shared = new File([file], `${file.name}.txt`, { type: SHARED_TYPE });
  return navigator.share({ files: [shared] });
}

const canShare = () =>
  navigator.canShare?.({ files: [new File([], "a.txt", { type: SHARED_TYPE })] });

/**
 * Says below the buttons what came of it, with the figures filled in.
 * @param {Element} line
 * @param {string} key
 * @param {Promise<WordParams>} work
 */
async function report(line, key, work) {
  try {
    line.textContent = t(key, await work);
  } catch (/** @type {any} */ error) {
    const words = error.text_key ?? "not_saved.error";
    line.textContent = t(words, { error: error.message || error.name });
  }
}

/** @param {(file: File) => unknown} send */
async function exportBy(send) {
  const { file, ...counts } = await buildExportFile();
  await send(file);
  return counts;
}

/** @param {(file: File) => void} take */
function filePicker(take) {
  const input = h("input", { type: "file", id: "ui-import", class: "beside" });
  input.addEventListener("change", () => input.files && take(input.files[0]));
  return h("label", { class: "plain", for: "ui-import" }, t("export.take"), input);
}

/** @param {App} app */
export function exportScreen(app) {
  const result = h("p", { role: "status", class: "note", id: "ui-result" });
  const way = (/** @type {string} */ name, /** @type {(file: File) => unknown} */ send) => {
    const run = () => report(result, "export.saved", exportBy(send));
    return button(`export.${name}`, "plain wide", run, {}, { id: `ui-export-${name}` });
  };
  return page(
    { title: t("export.title"), back: app.draft ? draftRoute(app.draft) : "#/today" },
    h("p", null, t("export.how")),
    way("save", save),
    canShare() && way("share", share),
    result,
    h("h2", null, t("export.other")),
    h("p", null, t("export.other_how")),
    filePicker((file) => report(result, "export.taken", importFile(file))),
  );
}
