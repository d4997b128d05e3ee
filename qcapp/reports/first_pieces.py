"""First pieces of a step: how many were good, and whether faults were set right before more were
made.

The counting rule. A first piece is of no stove's history: it enters no rate of a batch, step or
person, and no count of released stoves. Of first pieces themselves those of a day and those after
a new template or tool are counted; a further one made to show that a fault was set right is not,
or whoever mends would be counted twice. A fault was set right when a good piece of the same step
and maker followed it on the same day.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import StepRef
from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import counts_as_fail, judge_answers


@dataclass(frozen=True)
class FirstPiece:
    """day: in the yard, ISO; faults: (check, id of its fault or None) that counted as a fail."""

    id: str
    ref: StepRef
    maker: str
    inspector: str
    at: str
    day: str
    reason: str
    faults: tuple[tuple[Check, str | None], ...]

    @property
    def is_good(self) -> bool:
        return not self.faults


@dataclass(frozen=True)
class FirstPieces:
    """Of one step. pieces: newest first; bad: faulty ones that are counted, each with whether a
    good piece followed on the same day.
    """

    pieces: tuple[FirstPiece, ...]
    counted: int
    good: int
    bad: tuple[tuple[FirstPiece, bool], ...]

    @property
    def set_right(self) -> int:
        return sum(was_set_right for _piece, was_set_right in self.bad)


def read_first_pieces(
    events: Iterable[Mapping[str, Any]], checklists: Mapping[str, Checklist]
) -> list[FirstPiece]:
    """As the server judges them, by time. checklists: by hash; others are left out."""
    found = [
        _read(event, checklists[event["checklist_hash"]])
        for event in events
        if event["checklist_hash"] in checklists
    ]
    return sorted(found, key=lambda piece: (piece.at, piece.id))


def _read(event: Mapping[str, Any], checklist: Checklist) -> FirstPiece:
    body = event["body"]
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    judged = judge_answers(checklist, body["answers"], context)
    faults = tuple(
        (check, body["answers"].get(check.id, {}).get("fault"))
        for check in checklist.checks
        if counts_as_fail(check, judged[check.id].verdict)
    )
    local = datetime.fromisoformat(event["captured_at"]) + timedelta(minutes=event["tz_min"])
    return FirstPiece(
        event["id"],
        StepRef(checklist.id, body["step"]),
        body["maker"],
        event["inspector"],
        event["captured_at"],
        local.date().isoformat(),
        body["reason"],
        faults,
    )


def count_first_pieces(
    pieces: Iterable[FirstPiece], ref: StepRef, *, since: str | None, until: str | None
) -> FirstPieces:
    """Of one step between two days, both inclusive; None: no limit."""
    own = [
        piece
        for piece in pieces
        if piece.ref == ref and (since or "") <= piece.day <= (until or "9999")
    ]
    counted = [piece for piece in own if piece.reason != "set_right"]
    bad = tuple((piece, _was_set_right(piece, own)) for piece in counted if not piece.is_good)
    good = len(counted) - len(bad)
    return FirstPieces(tuple(reversed(own)), len(counted), good, bad)


def _was_set_right(piece: FirstPiece, own: Iterable[FirstPiece]) -> bool:
    return any(
        one.is_good and one.at > piece.at and (one.day, one.maker) == (piece.day, piece.maker)
        for one in own
    )
