"""The words of one language: GNU gettext catalogues as files, one folder a language, read when
first asked for.

    qcapp/i18n/languages/<language>/pages.po     pages, errors
    qcapp/i18n/languages/<language>/figures.po   what reports, charts and papers say
    qcapp/i18n/languages/<language>/phone.po     the phone, by the keys of phone/words/en.json

A language is there when its pages.po is. English is what stands in the code and has no folder.
"""

import gettext
import io
import re
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from qcapp.i18n.localized_text import LocalizedText
from qcapp.i18n.number_format import ENGLISH_FORMAT, NumberFormat, load_number_format
from qcapp.i18n.phrase import ENGLISH, Phrase

FOLDER = Path(__file__).parent / "languages"
# Languages, and scripts where the tag names one (ff-Adlm).
RIGHT_TO_LEFT = {"ar", "fa", "he", "nqo", "ps", "ur", "Adlm", "Arab", "Hebr", "Nkoo"}
PLACE = re.compile(r"%\((\w+)\)[-+ #0]*\d*(?:\.\d+)?[a-z]|%%")


class Locale:
    """What pages say in one language. `language` is a BCP 47 tag, `direction` is ltr or rtl."""

    def __init__(
        self,
        language: str,
        catalogue: gettext.NullTranslations,
        number_format: NumberFormat = ENGLISH_FORMAT,
    ) -> None:
        self.language = language
        self.direction = get_direction(language)
        self.number_format = number_format
        self._catalogue = catalogue

    def gettext(self, pattern: str) -> str:
        """The pattern in this language, nothing filled in; English where the catalogue has none."""
        return self._catalogue.gettext(pattern)

    def ngettext(self, one: str, many: str, n: int) -> str:
        return self._catalogue.ngettext(one, many, n)

    def translate(self, words: str) -> str:
        """Words made by phrase() in this language, also what is filled in; other strings are looked
        up as they stand.
        """
        if isinstance(words, LocalizedText):
            return words.translate_by(self)
        if not isinstance(words, Phrase):
            return self.gettext(words) if words else words
        if self.language == ENGLISH:
            return str(words)
        pattern = (
            self.gettext(words.one)
            if words.many is None
            else self.ngettext(words.one, words.many, words.n)
        )
        return PLACE.sub(lambda place: self._fill(place, words.params), pattern)

    def _fill(self, place: re.Match[str], params: Mapping[str, Any]) -> str:
        if place[1] is None:
            return "%"
        value = params[place[1]]
        if place[0].endswith("s"):
            return str(self.write(value))
        # %(mean).2f: written by the pattern, then as this language does.
        return self.number_format.write_number(place[0].replace(f"({place[1]})", "", 1) % value)

    def write(self, value: Any) -> Any:
        """What is filled into words: a phrase is said, a number written, the parts of a list too;
        anything else stays.
        """
        if isinstance(value, Phrase):
            return self.translate(value)
        if isinstance(value, tuple | list):
            return ", ".join(str(self.write(part)) for part in value)
        if self.language == ENGLISH or isinstance(value, bool):
            return value
        if isinstance(value, int):
            return self.number_format.write_count(value)
        return self.number_format.write_number(str(value)) if isinstance(value, float) else value


def get_direction(language: str) -> str:
    """ltr or rtl."""
    return "rtl" if RIGHT_TO_LEFT.intersection(language.split("-")) else "ltr"


def list_languages() -> tuple[str, ...]:
    """English first, then each language that has a catalogue, by its tag; looked for once, because
    every page asks several times.
    """
    return _list_in(FOLDER)


@cache
def _list_in(folder: Path) -> tuple[str, ...]:
    return (ENGLISH, *sorted(path.parent.name for path in folder.glob("*/pages.po")))


@cache
def name_language(language: str) -> str:
    """A language's name in itself, as its catalogue's head has it (Language-Team); its tag where
    that is empty, or where the program has no such catalogue: a checklist may have more languages.
    """
    if language == ENGLISH:
        return "English"
    if language not in list_languages():
        return language
    # Not by Babel: every page names all languages, also where only English is spoken.
    found = re.search(
        r'^"Language-Team: (.+?)(?: <.*)?\\n"$',
        (FOLDER / language / "pages.po").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    return found[1] if found else language


@cache
def load_locale(language: str) -> Locale:
    """English for a language that is not here."""
    if language not in list_languages() or language == ENGLISH:
        return Locale(ENGLISH, gettext.NullTranslations())
    words = read_catalogue(FOLDER / language / "pages.po")
    figures = FOLDER / language / "figures.po"
    if figures.exists():
        words.add_fallback(read_catalogue(figures))
    return Locale(language, words, load_number_format(language))


def read_catalogue(path: Path) -> gettext.GNUTranslations:
    """A .po file, compiled in memory: nothing to build and nothing that can be older than its
    source.

    Empty entries are left out.
    """
    # Here, because a server that speaks English only never needs it: 6 MB.
    from babel.messages.mofile import write_mo  # noqa: PLC0415
    from babel.messages.pofile import read_po  # noqa: PLC0415

    compiled = io.BytesIO()
    with path.open("rb") as source:
        catalogue = read_po(source)
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def choose_language(wished: Iterable[str], languages: Iterable[str] | None = None) -> str:
    """The first wished of these languages (those of the pages), a region falling back to its
    language (fr-CI is served by fr); else English.
    """
    here = {language.lower(): language for language in languages or list_languages()}
    for tag in wished:
        parts = tag.strip().lower().replace("_", "-").split("-")
        for length in range(len(parts), 0, -1):
            found = here.get("-".join(parts[:length]))
            if found:
                return found
    return ENGLISH
