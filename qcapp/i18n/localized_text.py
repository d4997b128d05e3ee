"""Words that are no pattern and still differ by language: figures, days, lists, a checklist's own
texts.

Each is English as it stands, like every Phrase, and knows how it is said elsewhere.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Self

from qcapp.i18n.phrase import ENGLISH, Phrase, phrase

if TYPE_CHECKING:
    from qcapp.i18n.catalogue import Locale


class LocalizedText(Phrase):
    """Base: `one` is the English text, nothing is filled in."""

    def __new__(cls, text: str) -> Self:
        made = str.__new__(cls, text)
        made.one, made.many, made.n, made.params = str(text).replace("%", "%%"), None, 1, {}
        return made

    def translate_by(self, locale: "Locale") -> str:
        raise NotImplementedError


class Figure(LocalizedText):
    """Decimal text with a point, such as "12.50" or "−0.3": elsewhere with the language's own
    character for it, digits kept.
    """

    def translate_by(self, locale: "Locale") -> str:
        return self.replace(".", locale.number_format.decimal)


class Day(LocalizedText):
    """A day or moment. iso: 2026-11-25 or 2026-11-25T10:27:28.217Z; shown in English as 2026-11-25
    10:27:28 UTC.
    """

    def __new__(cls, iso: str) -> Self:
        return super().__new__(cls, f"{iso[:10]} {iso[11:19]} UTC" if len(iso) > 10 else iso)

    def translate_by(self, locale: "Locale") -> str:
        return locale.number_format.write_day(self) + self[10:]


class Joined(LocalizedText):
    """Words one after the other; those that are phrases are said, the others stand as they are."""

    parts: tuple[str, ...]
    between: str

    def translate_by(self, locale: "Locale") -> str:
        between = translate_phrase(locale, self.between)
        return between.join(translate_phrase(locale, part) for part in self.parts)


class Text(LocalizedText):
    """A text of a checklist, by language; English where it has no other."""

    by_language: Mapping[str, str]

    def translate_by(self, locale: "Locale") -> str:
        return pick(self.by_language, locale.language)


SEMICOLON = phrase("; ")
COLON = phrase(": ")


def join(between: str, parts: Iterable[str]) -> Joined:
    """between.join(parts), of which each phrase stays one, and so does `between`: SEMICOLON and
    COLON are set otherwise in some languages.
    """
    kept = tuple(parts)
    made = Joined(between.join(kept))
    made.parts, made.between = kept, between
    return made


def pick(by_language: Mapping[str, str], language: str) -> str:
    """The text in this language, a region falling back to its language; else the English."""
    return (
        by_language.get(language)
        or by_language.get(language.split("-", maxsplit=1)[0])
        or by_language[ENGLISH]
    )


def text_of(by_language: Mapping[str, str]) -> Text:
    made = Text(by_language[ENGLISH])
    made.by_language = by_language
    return made


def translate_phrase(locale: "Locale", text: str) -> str:
    """Said where it is a phrase; a name or a typed word is never looked up."""
    return locale.translate(text) if isinstance(text, Phrase) else text
