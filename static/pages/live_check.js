// Checks a checklist while it is typed: the server reads it as it will when it is published, and says what is wrong where.
// Without this script the button “Check now” does the same. Its words stand in the page (data-good, data-bad, data-silent), which speaks the reader's language.
const PATIENCE_MS = 600;
const form = document.querySelector("form[data-check]");
const status = document.getElementById("live");
const notices = document.getElementById("live-notices");
let timer = 0;
let asked = 0;

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(check, PATIENCE_MS);
});

async function check() {
  const turn = ++asked;
  try {
    const answer = await fetch(form.dataset.check, {
      method: "POST",
      headers: { Accept: "application/json" },
      body: new URLSearchParams(new FormData(form)),
    });
    if (!answer.ok) throw new Error(String(answer.status));
    const found = await answer.json();
    // An older answer that comes late says nothing any more.
    if (turn === asked) show(found);
  } catch {
    status.textContent = status.dataset.silent;
  }
}

function show({ wrong, notices: told }) {
  const texts = new Map(wrong);
  for (const place of form.querySelectorAll("[data-wrong]"))
    mark(place, texts.get(place.dataset.wrong));
  list(
    document.getElementById("live-errors"),
    wrong.map(([key, text]) => (key ? linkTo(key, text) : text)),
  );
  list(
    notices,
    told.map(({ text }) => text),
  );
  notices.parentElement.hidden = told.length === 0;
  status.textContent =
    wrong.length === 0
      ? status.dataset.good
      : status.dataset.bad.replace("#", String(wrong.length));
}

function linkTo(key, text) {
  return Object.assign(document.createElement("a"), {
    className: "target",
    href: `#f-${key}`,
    textContent: text,
  });
}

function mark(place, text) {
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

function list(parent, contents) {
  parent.replaceChildren(
    ...contents.map((content) => {
      const item = document.createElement("li");
      item.append(content);
      return item;
    }),
  );
}
