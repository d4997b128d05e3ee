"""Longer words and the other reading direction break no page:
tried with two languages that only these tests know.
"""

import gettext
import re
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import BrowserContext, Route, sync_playwright

from qcapp.i18n.catalogue import Locale
from qcapp.web.middleware import language as chosen
from tests.conftest import CHROMIUM_FLAGS, get_chromium_path
from tests.i18n.filled import FilledYard

pytestmark = pytest.mark.slow

# A word that is filled in, a tag or a command stays as it is.
KEPT = re.compile(r"(%\(\w+\)s|%%|<code[^>]*>.*?</code>|<[^>]*>|&\w+;)", re.DOTALL)
LONGER = 0.6
# What leaves the window although nothing scrolls with it; not what lies in a box of its own that
# scrolls.
FIND_BEYOND = """() => {
  const width = document.documentElement.clientWidth;
  const boxes = ".scroll, .page-nav, pre, svg, .beside, .skip, select, thead";
  const inside = element => element.closest(boxes);
  const found = [...document.querySelectorAll("body *")].filter(element => {
    const box = element.getBoundingClientRect();
    return box.width > 0 && (box.right > width + 1 || box.left < -1) && !inside(element);
  });
  const scrolls = document.documentElement.scrollWidth > width;
  const named = found.slice(0, 3).map(element => element.outerHTML.slice(0, 160));
  return [...(scrolls ? ["page scrolls"] : []), ...named];
}"""


def stretch(text: str) -> str:
    """Each word six tenths longer, its letters again."""
    parts = KEPT.split(text)
    parts[::2] = [
        re.sub(
            r"[^\W\d_]{2,}",
            lambda word: word[0] + word[0].lower()[: round(len(word[0]) * LONGER)],
            part,
        )
        for part in parts[::2]
    ]
    return "".join(parts)


class Stretched(Locale):
    """English with long words, under the tag and in the direction of another language."""

    def __init__(self, language: str) -> None:
        super().__init__(language, gettext.NullTranslations())

    def gettext(self, pattern: str) -> str:
        return stretch(pattern)

    def ngettext(self, one: str, many: str, n: int) -> str:
        return stretch(one if n == 1 else many)


@pytest.fixture(scope="module")
def context(filled) -> Iterator[BrowserContext]:
    """A browser whose every request is answered by the app in this process,
    where the languages can be put in.
    """
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        context = browser.new_context()
        context.route("**/*", lambda route: answer(route, filled))
        yield context
        browser.close()


def answer(route: Route, filled: FilledYard) -> None:
    parts = urlsplit(route.request.url)
    found = filled.client.get(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    route.fulfill(
        status=found.status_code,
        body=found.content,
        content_type=found.headers.get("content-type", ""),
    )


@pytest.fixture
def speak(monkeypatch):
    """Makes every page speak one made-up language."""

    def put_in(locale: Locale) -> None:
        monkeypatch.setattr(chosen, "list_languages", lambda: ("en", locale.language))
        monkeypatch.setattr(chosen, "name_language", lambda tag: stretch("Language"))
        monkeypatch.setattr(chosen, "load_locale", lambda tag: locale)
        monkeypatch.setattr(chosen, "choose_language", lambda wished: locale.language)

    return put_in


def find_misfits(
    context: BrowserContext, filled: FilledYard, *widths: int
) -> list[tuple[str, int, list[str]]]:
    """Address, width and what leaves the window, of pages that do not fit."""
    page = context.new_page()
    misfits = []
    for address in filled.addresses:
        page.goto(f"http://testserver{address}")
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        for width in widths:
            page.set_viewport_size({"width": width, "height": 640})
            beyond = page.evaluate(FIND_BEYOND)
            misfits += [(address, width, beyond)] if beyond else []
    page.close()
    return misfits


def test_no_page_scrolls_sideways_with_words_six_tenths_longer(context, filled, speak):
    speak(Stretched("qps"))
    assert (
        'lang="qps"' in filled.client.get("/").text
        and stretch("Trainer") in filled.client.get("/").text
    )
    assert find_misfits(context, filled, 320, 360) == []


def test_pages_read_from_the_right_with_nothing_beyond_the_window(context, filled, speak):
    speak(Stretched("ar"))
    assert '<html lang="ar" dir="rtl"' in filled.client.get("/batches").text
    assert find_misfits(context, filled, 360, 1000) == []


def test_a_misfit_is_found(context):
    page = context.new_page()
    page.set_viewport_size({"width": 320, "height": 640})
    scrolled = (
        '<div class="scroll" style="overflow-x:auto"><p style="width:900px">its own</p></div>'
    )
    page.set_content(f'<body style="margin:0"><p style="width:500px">wide</p>{scrolled}')
    assert len(page.evaluate(FIND_BEYOND)) == 2
    page.close()


# English is above, longer than it is.
@pytest.mark.parametrize("language", ["fr", "pt"])
def test_real_languages_fit_the_narrowest_phone(context, filled, speak, language, monkeypatch):
    monkeypatch.setattr(chosen, "choose_language", lambda wished: language)
    assert find_misfits(context, filled, 320) == []
