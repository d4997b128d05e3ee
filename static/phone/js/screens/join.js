// Joining the yard.
import { hasCheckCharacter } from "../inspection/serial.js";
import { enrol } from "../sync/enrol.js";
import { syncNow } from "../sync/sync.js";
import { languageChooser } from "../ui/page.js";
import { t } from "../ui/words.js";
import { codePage } from "./code_page.js";

/**
 * @param {App} app
 * @param {string} code
 */
async function joinYard(app, code) {
  if (code.length !== 8 || !hasCheckCharacter(code)) throw new Error(t("join.mistyped"));
  await enrol(code);
  const { text_key } = await syncNow();
  await app.reload();
  if (!app.reference) throw Object.assign(new Error(), { text_key });
  app.go("#/who");
}

/** @param {App} app */
export function joinScreen(app) {
  const join = async (/** @type {HTMLInputElement} */ { value }) => {
    try {
      await joinYard(app, value.toUpperCase().replace(/[^0-9A-Z]/g, ""));
    } catch (/** @type {any} */ error) {
      return t("join.refused", { why: error.text_key ? t(error.text_key) : error.message });
    }
  };
  const attrs = { maxlength: 9, autocapitalize: "characters", value: app.joinCode ?? "" };
  const back = app.reference && "#/today";
  return codePage({ family: "join", back }, attrs, join, languageChooser(app));
}
