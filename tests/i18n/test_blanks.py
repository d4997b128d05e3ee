"""Between two sentences there is a blank, whatever a template leaves out between its tags."""

import re
from html import unescape

import pytest

from qcapp.i18n.catalogue import list_languages, load_locale
from tests.builders import ROOT

pytestmark = pytest.mark.slow

# Tags that stand inside a sentence: they leave no blank of their own.
INLINE = re.compile(r"</?(?:span|strong|small|b|em|a|kbd)\b[^>]*>")
MISSING = re.compile(r"[a-z0-9)%][a-z)%][.;:!?][A-Z][a-z]")


def list_glued(page: str) -> list[str]:
    main = re.search(r"<main.*</main>", page, re.DOTALL)
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", main[0] if main else page, flags=re.DOTALL)
    text = unescape(re.sub(r"<[^>]*>", " ", INLINE.sub("", text)))
    return [text[max(0, at.start() - 40) : at.end() + 20] for at in MISSING.finditer(text)]


def test_glued_sentences_are_found():
    assert list_glued("<main><p>the first answers.<strong>Missed</strong></p></main>")
    assert not list_glued("<main><p>the first answers.</p><p>Missed</p></main>")


def test_no_page_glues_two_sentences_together(filled):
    found = {
        address: glued
        for address in filled.addresses
        if "/text" not in address and (glued := list_glued(filled.client.get(address).text))
    }
    assert not found


def test_what_stands_before_a_cell_has_the_colon_of_its_language():
    """On a phone the style writes it, not a catalogue."""
    css = (ROOT / "static" / "pages" / "pages.css").read_text(encoding="utf-8")
    for language in list_languages():
        colon = load_locale(language).gettext(": ")
        written = colon.replace("\u00a0", "\\a0")
        rule = f'content: attr(data-label) "{written}"'
        assert rule in css, (language, rule)
        assert colon == ": " or f":lang({language}) td[data-label]" in css
