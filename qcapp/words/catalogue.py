"""The words of one language: GNU gettext catalogues as files, one folder a language, read when first asked for.

    qcapp/words/languages/<language>/pages.po     pages, errors
    qcapp/words/languages/<language>/figures.po   what reports, charts and papers say
    qcapp/words/languages/<language>/phone.po     the phone; msgctxt is the key of static/words/en.json

A language is there when its pages.po is. English is what stands in the code and has no folder.
"""

import gettext
import io
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from qcapp.words.phrase import Phrase

FOLDER = Path(__file__).parent / "languages"
ENGLISH = "en"
# Languages, and scripts where the tag names one (ff-Adlm).
RIGHT_TO_LEFT = {"ar", "fa", "he", "nqo", "ps", "ur", "Adlm", "Arab", "Hebr", "Nkoo"}


class Words:
    """What pages say in one language. `language` is a BCP 47 tag, `direction` is ltr or rtl."""

    def __init__(self, language: str, catalogue: gettext.NullTranslations) -> None:
        self.language = language
        self.direction = get_direction(language)
        self._catalogue = catalogue

    def gettext(self, pattern: str) -> str:
        """The pattern in this language, nothing filled in; English where the catalogue has none."""
        return self._catalogue.gettext(pattern)

    def ngettext(self, one: str, many: str, n: int) -> str:
        return self._catalogue.ngettext(one, many, n)

    def say(self, words: str) -> str:
        """Words made by phrase() in this language, also what is filled in; other strings are looked up as they stand."""
        if not isinstance(words, Phrase):
            return self.gettext(words) if words else words
        pattern = self.gettext(words.one) if words.many is None else self.ngettext(words.one, words.many, words.n)
        return pattern % {name: self._fill(value) for name, value in words.params.items()}

    def _fill(self, value: Any) -> Any:
        return self.say(value) if isinstance(value, Phrase) else value


def get_direction(language: str) -> str:
    """ltr or rtl."""
    return "rtl" if RIGHT_TO_LEFT.intersection(language.split("-")) else "ltr"


def list_languages() -> tuple[str, ...]:
    """English first, then each language that has a catalogue, by its tag."""
    return (ENGLISH, *sorted(path.parent.name for path in FOLDER.glob("*/pages.po")))


@cache
def load_words(language: str) -> Words:
    """English for a language that is not here."""
    if language not in list_languages() or language == ENGLISH:
        return Words(ENGLISH, gettext.NullTranslations())
    words = read_catalogue(FOLDER / language / "pages.po")
    figures = FOLDER / language / "figures.po"
    if figures.exists():
        words.add_fallback(read_catalogue(figures))
    return Words(language, words)


def read_catalogue(path: Path) -> gettext.GNUTranslations:
    """A .po file, compiled in memory: nothing to build and nothing that can be older than its source. Empty entries are left out."""
    # Here, because a server that speaks English only never needs it: 6 MB.
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = io.BytesIO()
    with path.open("rb") as source:
        write_mo(compiled, read_po(source))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def choose_language(wished: Iterable[str], languages: Iterable[str] | None = None) -> str:
    """The first wished of these languages (those of the pages), a region falling back to its language (fr-CI is served by fr); else English."""
    here = {language.lower(): language for language in languages or list_languages()}
    for tag in wished:
        parts = tag.strip().lower().replace("_", "-").split("-")
        for length in range(len(parts), 0, -1):
            found = here.get("-".join(parts[:length]))
            if found:
                return found
    return ENGLISH
