// A page that asks for a code.
import { h } from "../ui/dom.js";
import { alertLine, page } from "../ui/page.js";
import { t } from "../ui/words.js";

/**
 * Asks for a code in the words of a family; take(input) goes on, or gives the words that say why
 * not.
 * @param {{family: string, back?: string | false | null, params?: WordParams}} head
 * @param {Attributes} attrs of the input
 * @param {(input: HTMLInputElement) => Promise<string | void>} take
 * @param {Child} more what stands below
 */
export function codePage({ family, back, params }, attrs, take, more) {
  const plain = { class: "code", autocomplete: "off", spellcheck: "false" };
  const code = h("input", { id: "ui-code", ...plain, ...attrs });
  const answer = alertLine();
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    answer.textContent = t(`${family}.asking`);
    answer.textContent = (await take(code)) ?? "";
  };
  const go = h("button", { class: "go", id: "ui-go", form: "ui-form" }, t(`${family}.go`));
  return page(
    { title: t(`${family}.title`, params), back, actions: go },
    h("p", null, t(`${family}.how`)),
    h("form", { id: "ui-form", onsubmit: send }, h("label", null, t(`${family}.code`), code)),
    answer,
    more,
  );
}
