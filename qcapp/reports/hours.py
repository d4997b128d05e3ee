"""Hours of skilled work beside what the same people's pieces were like; never hours alone.

Fast work with faults and slow work without are both seen only side by side. Hours come from the
yard's own notes, faults from first inspections between the same days.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import phrase
from qcapp.reports.groups import GroupRate, People, build_rate

WHOLE_STOVE = phrase("Whole stove")


@dataclass(frozen=True)
class WorkHours:
    """A note. step: its id, None for the whole stove; hours: of all pieces and people together;
    since, until: ISO days, both inclusive.
    """

    id: str
    step: str | None
    artisans: tuple[str, ...]
    hours: Decimal
    pieces: int
    since: str
    until: str

    @property
    def per_piece(self) -> Decimal:
        return self.hours / self.pieces

    def overlaps(self, other: "WorkHours") -> bool:
        """Whether a piece could be in both."""
        return (
            self.step == other.step
            and bool({*self.artisans} & {*other.artisans})
            and self.since <= other.until
            and other.since <= self.until
        )


@dataclass(frozen=True)
class PieceCount:
    """First inspections by one checklist of pieces on which these people did the work; failed: with
    a fault of it; faults: failed checks.
    """

    checklist: str
    inspected: int
    failed: int
    faults: int


@dataclass(frozen=True)
class HoursFaults:
    """faults_per_piece: failed checks of the work for each piece inspected."""

    checklist: str
    rate: GroupRate
    faults: int
    faults_per_piece: float


@dataclass(frozen=True)
class HoursRow:
    """found: by checklist; without any the hours are not shown."""

    note: WorkHours
    title: str
    names: tuple[str, ...]
    found: tuple[HoursFaults, ...]


def build_hours_rows(
    notes: Iterable[WorkHours],
    counts: Mapping[str, Sequence[PieceCount]],
    works: Mapping[str, Sequence[Step]],
    people: People,
) -> list[HoursRow]:
    """By work, the whole stove first, then the newest days. counts: by the note's id."""
    order = {step: place for place, step in enumerate((None, *works))}
    newest = sorted(notes, key=lambda note: (note.until, note.id), reverse=True)
    rows = [
        HoursRow(
            note,
            name_work(note.step, works),
            tuple(people.get(code, {}).get("name", code) for code in note.artisans),
            tuple(_build_faults(one) for one in counts.get(note.id, ()) if one.inspected),
        )
        for note in newest
    ]
    return sorted(rows, key=lambda row: order.get(row.note.step, len(order)))


def name_work(step: str | None, works: Mapping[str, Sequence[Step]]) -> str:
    if step is None:
        return WHOLE_STOVE
    titles = dict.fromkeys(text_of(one.title) for one in works.get(step, ()))
    return join(" / ", titles) if titles else step


def _build_faults(count: PieceCount) -> HoursFaults:
    return HoursFaults(
        count.checklist,
        build_rate(count.inspected, count.failed),
        count.faults,
        count.faults / count.inspected,
    )
