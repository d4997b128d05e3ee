"""The elements of an SVG while it is read, and how many it draws in the end."""

from collections import Counter
from dataclasses import dataclass, field
from typing import NamedTuple

from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase

# Drawn by <use>, of all together.
MAX_REPEATED = 5000


class Open(NamedTuple):
    """An element that is not closed yet. before: how many came before it."""

    tag: str
    id: str | None
    before: int


@dataclass
class Elements:
    """What was seen so far. elements: how many; sizes: elements in each one that has an id and is
    closed; repeated: how often a <use> names an id; holders: ids of elements with a <use> inside.
    """

    elements: int = 0
    open: list[Open] = field(default_factory=list)
    sizes: dict[str, int] = field(default_factory=dict)
    repeated: Counter[str] = field(default_factory=Counter)
    holders: set[str] = field(default_factory=set)

    def enter(self, tag: str, own_id: str | None) -> None:
        self.open.append(Open(tag, own_id, self.elements))
        self.elements += 1

    def repeat(self, piece: str) -> None:
        """The element that was entered last names this id, to draw it once more."""
        self.repeated[piece] += 1
        self.holders.update(one.id for one in self.open if one.id is not None)

    def close(self) -> None:
        last = self.open.pop()
        if last.id is not None:
            self.sizes[last.id] = self.elements - last.before


def refuse_growth(seen: Elements, name: Phrase) -> None:
    """A repeated piece that repeats others doubles at every step: a few lines become millions. So
    do thousands of repeats of a piece of thousands, and a piece of another drawing on the page.
    """
    both = sorted(seen.repeated.keys() & seen.holders)
    if both:
        raise BadInput(
            phrase(
                "%(name)s repeats '%(piece)s', which itself repeats others with <use>",
                name=name,
                piece=both[0],
            ),
            name,
            phrase("draw the inner piece out"),
        )
    absent = sorted(seen.repeated.keys() - seen.sizes.keys())
    if absent:
        raise BadInput(
            phrase("%(name)s repeats '%(piece)s', which it has not", name=name, piece=absent[0]),
            name,
            phrase("let it name only what is inside the drawing (#id)"),
        )
    drawn = sum(seen.sizes[piece] * often for piece, often in seen.repeated.items())
    if drawn > MAX_REPEATED:
        raise BadInput(
            phrase(
                "%(name)s draws %(drawn)s elements with <use>; at most %(most)s are",
                name=name,
                drawn=drawn,
                most=MAX_REPEATED,
            ),
            name,
            phrase("draw it with fewer strokes"),
        )
