"""Which piece of an earlier stage went into which stove, and what is found on it again."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from random import Random
from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.scenario.look_again import read_again
from qcapp.scenario.schedule import Work


@dataclass(frozen=True)
class Piece:
    """A good piece of an earlier stage. answers: as it left that stage."""

    work: Work
    answers: Mapping[str, Any]


class WaitingPieces:
    """Good pieces that wait to be built in, in the order in which they were made."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self.waiting: list[Piece] = []
        self.taken: dict[str, int] = {}

    def put(self, piece: Piece) -> None:
        self.waiting.append(piece)

    def take(self, work: Work) -> Iterator[Piece]:
        """One of each stage that is still to be recorded for stoves of this batch: made before, by
        the same hands as the stove's steps say.
        """
        for stage in work.batch.stages:
            name = f"{work.batch.code}/{stage.checklist}"
            fitting = (piece for piece in self.waiting if _fits(piece, work, stage.checklist))
            if self.taken.get(name, 0) < stage.linked and (piece := next(fitting, None)):
                self.taken[name] = self.taken.get(name, 0) + 1
                self.waiting.remove(piece)
                yield piece

    def find_again(self, piece: Piece, work: Work) -> dict[str, Any]:
        """Answers to what both checklists ask of the same place."""
        # A stream of its own: the stove's other answers stay as they were.
        rng = Random(f"{self.seed}/again/{work.stove}")  # noqa: S311 -- an invented yard
        found = {}
        for check in work.checklist.checks:
            answer = piece.answers.get(check.id)
            if answer is None or not isinstance(check, NumberCheck):
                continue
            found[check.id] = read_again(rng, check, answer)
        return found


def _fits(piece: Piece, work: Work, checklist_id: str) -> bool:
    made = piece.work
    same_hands = all(work.crew.get(step, by) == by for step, by in made.crew.items())
    is_of = made.batch.code == work.batch.code and made.checklist.id == checklist_id
    return is_of and made.days_ago > work.days_ago and same_hands
