// Checks a checklist while it is typed: the server reads it as it will when it is published, and
// says what is wrong where. Without this script the button “Check now” does the same. Its words
// stand in the page (data-good, data-bad, data-silent), which has the reader's language.
const PATIENCE_MS = 600;
const form = /** @type {HTMLFormElement} */ (document.querySelector("form[data-check]"));
const status = findElement("live");
let timer = 0;
let asked = 0;

/**
 * What the server says: [place, text] of each mistake, and texts that are no mistakes.
 * @typedef {{wrong: [string, string][], notices: {text: string}[], changes: {text: string}[]}} Found
 */

/** @param {string} id */
function findElement(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(check, PATIENCE_MS);
});

async function check() {
  const turn = ++asked;
  try {
    const answer = await fetch(form.dataset.check ?? "", {
      method: "POST",
      headers: { Accept: "application/json" },
      body: new URLSearchParams(/** @type {any} */ (new FormData(form))),
    });
    if (!answer.ok) throw new Error(String(answer.status));
    const found = await answer.json();
    // An older answer that comes late says nothing any more.
    if (turn === asked) show(found);
  } catch {
    status.textContent = status.dataset.silent ?? "";
  }
}

/** @param {Found} found */
function show({ wrong, notices, changes }) {
  const texts = new Map(wrong);
  for (const place of form.querySelectorAll("[data-wrong]")) mark(place, texts);
  list(
    findElement("live-errors"),
    wrong.map(([key, text]) => (key ? linkTo(key, text) : text)),
  );
  listFound(findElement("live-notices"), notices);
  listFound(findElement("live-changes"), changes);
  const { good = "", bad = "" } = status.dataset;
  status.textContent = wrong.length === 0 ? good : bad.replace("#", String(wrong.length));
}

/**
 * @param {HTMLElement} element
 * @param {{text: string}[]} found
 */
function listFound(element, found) {
  list(
    element,
    found.map(({ text }) => text),
  );
  element.parentElement?.toggleAttribute("hidden", found.length === 0);
}

/**
 * @param {string} key
 * @param {string} text
 */
function linkTo(key, text) {
  return Object.assign(document.createElement("a"), {
    className: "target",
    href: `#f-${key}`,
    textContent: text,
  });
}

/**
 * @param {Element} element
 * @param {Map<string, string>} texts
 */
function mark(element, texts) {
  const place = /** @type {HTMLElement} */ (element);
  const text = texts.get(place.dataset.wrong ?? "");
  place.textContent = text ?? "";
  place.hidden = !text;
  const field = document.getElementById(`f-${place.dataset.wrong}`);
  if (!field) return;
  if (text) {
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", place.id);
  } else {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
}

/**
 * @param {Element} parent
 * @param {(Node | string)[]} contents
 */
function list(parent, contents) {
  parent.replaceChildren(
    ...contents.map((content) => {
      const item = document.createElement("li");
      item.append(content);
      return item;
    }),
  );
}
