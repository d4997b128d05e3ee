// The PIN of an inspector.
import { getMeta, setMeta } from "../store/local_db.js";
import { hashPin } from "../store/pin.js";
import { h } from "../ui/dom.js";
import { button, disclosure } from "../ui/page.js";
import { t } from "../ui/words.js";
import { codePage } from "./code_page.js";

/**
 * Asks for the PIN of an inspector, or for a first one. Of a removed one the day stays.
 * @param {App} app
 * @param {string} code
 */
export async function pinScreen(app, code) {
  /** @type {Pins | undefined} */
  const pins = await getMeta("pins");
  const { salt, hash } = pins?.[code] ?? {};
  const storePin = (/** @type {Pin} */ pin) =>
    app.attempt(() => setMeta("pins", { ...pins, [code]: pin }));
  const take = async (/** @type {HTMLInputElement} */ input) => {
    if (!/^\d{4}$/.test(input.value)) return t("pin.four");
    const typed = await hashPin(input.value, salt);
    input.select();
    if (hash && hash !== typed.hash) return t("pin.wrong");
    if (hash || (await storePin(typed))) app.chooseInspector(code);
  };
  const remove = async () => (await storePin({ removed_at: app.now() })) && app.go("#/who");
  const forgotten = disclosure(
    "pin.forgotten",
    h("p", null, t("pin.remove_why")),
    button("pin.remove", "plain", remove),
  );
  const params = { name: app.personName(code) };
  const head = { family: hash ? "pin" : "new_pin", back: "#/who", params };
  return codePage(head, { maxlength: 4, inputmode: "numeric" }, take, hash && forgotten);
}
