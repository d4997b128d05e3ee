"""Turns English that was stored as plain text back into the phrase it was made of, so that it can be said in another language.

Only what is rebuilt to the very same text counts as recognised; anything else is left to its reader as it stands.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import Phrase

# An entry of a catalogue: the pattern, or (one, many) where a number chooses.
Id = str | tuple[str, str]
# Filled in with what a person chose or typed: never looked into.
FREE = {"by", "id", "reason", "seed", "serials", "shown", "words"}
SLOT = re.compile(r"%\((\w+)\)s")
WHOLE, DECIMAL = re.compile(r"0|[1-9]\d*"), re.compile(r"[-−]?\d+\.\d+")
# A pattern with fewer letters of its own says little: it counts only when what is filled in are numbers or fixed words.
FEW_LETTERS = 8
# A sentence in a sentence in a sentence: deeper is nothing that the program writes.
MAX_DEPTH = 3


@dataclass(frozen=True)
class _Pattern:
    one: str
    many: str | None
    first: str
    last: str
    shape: re.Pattern
    letters: int


class Recogniser:
    """ids: the English of a catalogue."""

    def __init__(self, ids: Iterable[Id]) -> None:
        patterns = [(entry, None) if isinstance(entry, str) else tuple(entry) for entry in ids]
        self._plain = {
            one.replace("%%", "%")
            for one, many in patterns
            if many is None and not SLOT.search(one)
        }
        forms = [
            (one, many, form)
            for one, many in patterns
            for form in (one, many)
            if form and SLOT.search(form) and _has_own_words(form)
        ]
        found = [_Pattern(one, many, *_shape(form)) for one, many, form in forms]
        # The more of its own words a pattern has, the more exact it is.
        self._patterns = sorted(found, key=lambda pattern: -pattern.letters)

    def recognise(self, text: str, depth: int = MAX_DEPTH) -> Phrase | None:
        """None where no pattern gives exactly this text."""
        if text in self._plain:
            return Phrase(text.replace("%", "%%"), {})
        return next(self._list_fits(text, depth), None) if depth else None

    def _list_fits(self, text: str, depth: int) -> Iterator[Phrase]:
        for pattern in self._patterns:
            # Most patterns are refused here, before the slower comparison.
            found = (
                pattern.shape.fullmatch(text)
                if text.startswith(pattern.first) and text.endswith(pattern.last)
                else None
            )
            made = self._rebuild(pattern, found.groupdict(), depth) if found else None
            if made == text:
                yield made

    def _rebuild(self, pattern: _Pattern, filled: dict[str, str], depth: int) -> Phrase | None:
        is_weak = pattern.letters < FEW_LETTERS
        params = {
            name: self._recall(name, value, 0 if is_weak else depth - 1)
            for name, value in filled.items()
        }
        is_known = all(name in FREE or value is not filled[name] for name, value in params.items())
        if is_weak and not is_known:
            return None
        if pattern.many is None:
            return Phrase(pattern.one, params)
        return (
            Phrase(pattern.one, params, pattern.many, params["n"])
            if isinstance(params.get("n"), int)
            else None
        )

    def _recall(self, name: str, value: str, depth: int) -> Any:
        """The number, figure, phrase or list of phrases that this text stands for; else the text itself."""
        if name in FREE:
            return value
        if WHOLE.fullmatch(value):
            return int(value)
        if DECIMAL.fullmatch(value):
            return Figure(value)
        found = self.recognise(value, depth)
        parts = [] if found else [self.recognise(part, depth) for part in value.split(", ")]
        return found or (join(", ", parts) if len(parts) > 1 and all(parts) else value)


def _has_own_words(form: str) -> bool:
    """ "%(what)s: %(todo)s" has none and would fit anything; "%(aql)s %%" has its sign."""
    return any(sign.isalpha() or sign == "%" for sign in SLOT.sub("", form))


def _shape(form: str) -> tuple[str, str, re.Pattern, int]:
    pieces = SLOT.split(form)
    own, names = [piece.replace("%%", "%") for piece in pieces[::2]], pieces[1::2]
    shape, seen = re.escape(own[0]), set()
    for name, after in zip(names, own[1:], strict=True):
        shape += (f"(?P={name})" if name in seen else f"(?P<{name}>.+?)") + re.escape(after)
        seen.add(name)
    return (
        own[0],
        own[-1],
        re.compile(shape, re.DOTALL),
        sum(sign.isalpha() for piece in own for sign in piece),
    )
