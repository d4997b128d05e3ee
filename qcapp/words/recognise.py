"""Finds the phrase that an English sentence was made from: what is kept as text (why a record was set aside, a signed
summary's sentences, who did what) can so be said in another language, while the kept text stays as it is."""

import re
from collections.abc import Iterable
from functools import cached_property

from qcapp.words.phrase import Phrase

PLACE = re.compile(r"%\((\w+)\)[-+ #0]*\d*(?:\.\d+)?[a-z]|%%")
# A pattern of fewer letters, such as "%(what)s: %(todo)s", fits anything.
LEAST_LETTERS = 4
# Longer text is somebody's own, or no sentence; looking through it would take long.
MOST_LENGTH = 1000
Id = str | tuple[str, str]


class Recogniser:
    """ids: the English of a catalogue, (one, many) where a number chooses."""

    def __init__(self, ids: Iterable[Id]) -> None:
        self._ids = tuple(ids)

    def find(self, text: str) -> Phrase | None:
        """The phrase whose English is this text; of several the one that leaves least to fill in."""
        if len(text) > MOST_LENGTH:
            return None
        for _letters, (first, last), pattern, one, many in self._patterns:
            found = pattern.fullmatch(text) if text.startswith(first) and text.endswith(last) else None
            if found:
                params = {name: self.find(part) or part for name, part in found.groupdict().items()}
                n = params.get("n", "1") if many else "1"
                return Phrase(one, params, many, int(n) if n.isascii() and n.isdigit() else 2)
        return None

    @cached_property
    def _patterns(self) -> list[tuple[int, tuple[str, str], re.Pattern, str, str | None]]:
        """(letters, what it begins and ends with, the pattern, one, many), most letters first."""
        found = []
        for entry in self._ids:
            one, many = (entry, None) if isinstance(entry, str) else entry
            for text in filter(None, (one, many)):
                letters = sum(map(str.isalpha, PLACE.sub("", text)))
                if letters >= LEAST_LETTERS:
                    pieces = PLACE.sub("\0", text).split("\0")
                    found.append((letters, (pieces[0], pieces[-1]), re.compile(_as_pattern(text), re.DOTALL), one, many))
        return sorted(found, key=lambda entry: -entry[0])


def _as_pattern(text: str) -> str:
    seen: set[str] = set()

    def fill(found: re.Match) -> str:
        name = found[1]
        if name is None:
            return "%"
        again = name in seen
        seen.add(name)
        return f"(?P={name})" if again else f"(?P<{name}>.+?)"

    pieces, at = [], 0
    for found in PLACE.finditer(text):
        pieces += [re.escape(text[at:found.start()]), fill(found)]
        at = found.end()
    return "".join([*pieces, re.escape(text[at:])])
