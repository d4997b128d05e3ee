"""What reports and charts say on pages, said in the page's language: titles, headings of tables,
no word of English beside them.
"""

import re
from html import unescape

import pytest

from qcapp.i18n.catalogue import ENGLISH, list_languages, load_locale
from qcapp.i18n.phrase import phrase
from tests.catalogues import extract

pytestmark = pytest.mark.slow

OTHERS = [language for language in list_languages() if language != ENGLISH]
# Pages of figures, and the English that each must have said: a chart's title or description, a
# heading of its table.
ROOMS = {
    r"/trainer": ("Stoves with a fault, by part", "Teach next", "metalwork"),
    r"/trainer/steps": ("Everybody", "above the average at the step", "How to read it"),
    r"/trainer/faults": ("failed checks", "running share"),
    r"/trainer/artisans/A\d\d": (
        "in the order recorded",
        "rate",
        "Each chart shows the share with a fault",
    ),
    r"/trainer/drift/checks/.+": (
        "Single readings",
        "Moving range: from one reading to the next",
        "stands out",
        "the middle of the limits",
    ),
    r"/yard/limits/.+": ("stoves", "Share of the variance"),
    r"/batches/B\d/figures": ("Failed checks by part", "Check", "Severity"),
    r"/batches/B\d/summaries/\d": (
        "Failed checks at first pass, by part",
        "Severity",
        "This is a translation for reading.",
    ),
    r"/s/[^/?]{20,}": (
        "Failed checks at first pass, by part",
        "Released with it, without a concession",
        "This is a translation for reading.",
    ),
}
# A word of another language that is spelled as another English one.
ALIKE = {"fr": {"Part", "Phone"}, "pt": set()}
# What the checklist's file calls it; and a language's own name for itself, at the foot of every
# page.
AS_WRITTEN = {"decision", "English"}


def list_pieces(page: str) -> set[str]:
    """Each text between two tags, and each label, as it stands."""
    page = re.sub(r"<pre\b.*?</pre>", " ", page, flags=re.DOTALL)
    labels = re.findall(r'(?:aria-label|placeholder|alt|title|data-label)="([^"]*)"', page)
    return {" ".join(unescape(text).split()) for text in (*re.split(r"<[^>]*>", page), *labels)} - {
        ""
    }


def list_english(language: str) -> set[str]:
    """Of both catalogues what is one piece and reads otherwise in this language."""
    locale = load_locale(language)
    whole = [
        message.id
        for domain in ("pages", "figures")
        for message in extract(domain)
        if isinstance(message.id, str)
    ]
    return {
        text.replace("%%", "%")
        for text in whole
        if text and not re.search(r"%\(|<", text) and locale.gettext(text) != text
    }


def find_said(language: str, english: str) -> str:
    """The translation of this text, or of the first sentence that begins so,
    up to what is filled in.
    """
    locale = load_locale(language)
    ids = [
        message.id
        for domain in ("pages", "figures")
        for message in extract(domain)
        if isinstance(message.id, str)
    ]
    whole = english if english in ids else next(text for text in ids if english in text)
    said = " ".join(re.split(r"[%<]", locale.gettext(whole))[0].split())
    assert said and said != english, (language, english)
    return said


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("room", ROOMS)
def test_a_page_of_figures_is_said_whole(filled, room, language):
    addresses = [address for address in filled.addresses if re.fullmatch(room, address)]
    assert addresses, f"no page like {room}"
    english = list_english(language) - ALIKE[language] - AS_WRITTEN
    for address in addresses:
        page = filled.client.get(address, headers={"Accept-Language": language}).text
        pieces = list_pieces(page)
        missed = [
            text
            for text in ROOMS[room]
            if not any(find_said(language, text) in piece for piece in pieces)
        ]
        assert not missed, (address, missed)
        assert not pieces & english, (address, pieces & english)


def test_figures_of_a_chart_are_written_as_the_language_does(filled):
    address = next(
        address for address in filled.addresses if address.startswith("/trainer/drift/checks/")
    )
    pages = {
        language: filled.client.get(address, headers={"Accept-Language": language}).text
        for language in (ENGLISH, "fr")
    }
    tables = {
        language: re.search(r"<table>.*?</table>", page, re.DOTALL)[0]
        for language, page in pages.items()
    }
    assert (
        re.search(r">\d+\.\d+<", tables[ENGLISH])
        and not re.search(r">\d+\.\d+<", tables["fr"])
        and re.search(r">\d+,\d+<", tables["fr"])
    )
    assert load_locale("fr").translate(phrase("point")) in tables["fr"]
