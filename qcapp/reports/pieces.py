"""How much is right first time, stage after stage, and over the stages for the same piece.

A stage's articles are stoves, liners or whatever it inspects. Where a stove's record names its
liner, both are one piece; where it does not, nobody can tell, and the page says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.pieces import join_pieces
from qcapp.reports.piece_facts import PieceFacts
from qcapp.reports.piece_yields import Line, build_line, list_earlier
from qcapp.reports.shared_steps import Work, build_works


@dataclass(frozen=True)
class PieceReport:
    """contradictions: keys of articles whose links cannot all be true; they count for none."""

    lines: tuple[Line, ...]
    works: tuple[Work, ...]
    contradictions: Sequence[Sequence[str]]


def build_piece_report(facts: PieceFacts, history: ChecklistHistory) -> PieceReport:
    """A line for each checklist in use that goes on from earlier stages and inspected anything."""
    groups, contradictions = join_pieces({*facts.links, *facts.claims})
    pieces = [[key for key in group if key in facts.articles] for group in groups]
    by_checklist = {one.checklist: one for one in facts.stages}
    lines = [
        build_line(name, earlier, by_checklist, pieces, facts.articles, history)
        for name, earlier in list_earlier(history).items()
        if name in by_checklist
    ]
    return PieceReport(tuple(lines), tuple(build_works(facts, pieces, history)), contradictions)
