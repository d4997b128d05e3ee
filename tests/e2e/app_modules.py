"""Modules of the phone's app, called from a test on its own page."""

import time

from playwright.sync_api import Page

ANSWER_S = 30

# Their address holds the version of the app, so it is read off the page.
LOAD = """const load = (path) =>
  import(document.querySelector('script[src$="main.js"]').src.replace("main.js", path));"""


def with_modules(function: str) -> str:
    """The JavaScript function, in which `load('store/db.js')` gives that module of the app."""
    return f"(given) => {{ {LOAD} return ({function})(given); }}"


def wait_for_answer(page: Page, function: str, arg: object = None) -> None:
    """Asks an asynchronous function of the page until it says true.

    `wait_for_function` would not wait: it takes the promise itself for the answer.
    """
    end = time.monotonic() + ANSWER_S
    while not page.evaluate(function, arg):
        assert time.monotonic() < end, f"not within {ANSWER_S} s: {function}"
        page.wait_for_timeout(50)


# The draft in hand, as it is stored; null without one.
READ_DRAFT = with_modules("""async () => {
  const {listDrafts} = await load('store/local_db.js');
  return (await listDrafts()).find((draft) => draft.is_open) ?? null;
}""")
