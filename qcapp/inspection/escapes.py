"""Which stage let a fault through: what an earlier stage passed and a later one found.

A check names the earlier checks that should have caught its faults (`should_be_caught_by`). The
earlier stage is the last one that looked at all of these on the piece, before the later stage's
first inspection. What it failed was known and is no escape, whatever was decided about the piece.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from qcapp.inspection.pieces import LOAD_STAGE, MadeFrom, join_pieces

# By (checklist id, check id) of the later check: {stage: ids of its checks}.
CaughtBy = Mapping[tuple[str, str], Mapping[str, Sequence[str]]]


class Look(NamedTuple):
    """One check that one inspection of an article looked at; missing and not applicable are no
    look. key: the article's; checklist: id; a doubtful one failed where its check counts it so.
    """

    key: str
    checklist: str
    check: str
    captured_at: str
    is_first_pass: bool
    failed: bool


@dataclass(frozen=True)
class Piece:
    """Articles that are one piece, by key, and the kiln load that it was in, if that is known."""

    keys: tuple[str, ...]
    load: str | None = None


class Passage(NamedTuple):
    """A stage passed what `check` of a later checklist looked at again, and found failed or not.

    earlier: that stage's look that came last; later: the later stage's.
    """

    earlier: Look
    later: Look

    @property
    def is_escape(self) -> bool:
        return self.later.failed


def find_pieces(links: Iterable[MadeFrom], articles: Iterable[str]) -> list[Piece]:
    """Of these articles. What cannot all be true joins none of them, and where several loads are
    named for one piece, none is believed.
    """
    links = list(links)
    groups, _contradictions = join_pieces(links)
    placed = {key for group in groups for key in group}
    loads: dict[str, set[str]] = {}
    for link in links:
        if link.stage == LOAD_STAGE:
            loads.setdefault(link.stove_key, set()).add(link.from_key)
    alone = [[key] for key in sorted({*articles} - placed)]
    return [_build_piece(group, loads) for group in (*groups, *alone)]


def _build_piece(keys: Sequence[str], loads: Mapping[str, set[str]]) -> Piece:
    named = {load for key in keys for load in loads.get(key, ())}
    return Piece(tuple(keys), named.pop() if len(named) == 1 else None)


def list_passages(
    piece: Piece, looks: Mapping[str, Sequence[Look]], caught_by: CaughtBy
) -> Iterator[Passage]:
    """looks: by article, oldest first. One passage for each later check at its first pass."""
    for key in piece.keys:
        for later in looks.get(key, ()):
            named = caught_by.get((later.checklist, later.check))
            if named and later.is_first_pass:
                earlier = _find_earlier(later, named, piece, looks)
                if earlier and not any(look.failed for look in earlier):
                    yield Passage(earlier[-1], later)


def _find_earlier(
    later: Look,
    named: Mapping[str, Sequence[str]],
    piece: Piece,
    looks: Mapping[str, Sequence[Look]],
) -> list[Look] | None:
    """Of the stage that looked last: its last look at each check, the newest one last."""
    found = []
    for key in (*piece.keys, *([piece.load] if piece.load else [])):
        checks = named.get(key.partition("/")[0], ())
        last = {
            look.check: look
            for look in looks.get(key, ())
            if look.check in checks and look.captured_at < later.captured_at
        }
        if checks and len(last) == len(set(checks)):
            found.append(sorted(last.values(), key=lambda look: look.captured_at))
    return max(found, key=lambda of_stage: of_stage[-1].captured_at, default=None)
