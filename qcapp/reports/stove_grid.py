"""A batch's stoves one by one, each in the state it is in, for a picture of the whole batch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from qcapp.inspection.serial import find_serial_number, serial_key
from qcapp.reports.plan import name_serial
from qcapp.reports.totals import OUTCOMES

NOT_INSPECTED = "not_inspected"
# By the words of totals.py, so that a page says the same of a stove and of a count.
STATES = (*OUTCOMES, NOT_INSPECTED)


class StoveNow(Protocol):
    """A stove as it stands; decided_by: code of the lead who decided about it, or None."""

    @property
    def serial(self) -> str: ...
    @property
    def disposition(self) -> str: ...
    @property
    def inspections(self) -> int: ...
    @property
    def decided_by(self) -> str | None: ...


@dataclass(frozen=True)
class Cell:
    """serial: empty where nobody can say which stove was not inspected; short: what tells it from
    its neighbours, its number where it has one.
    """

    state: str
    serial: str
    short: str


@dataclass(frozen=True)
class StoveGrid:
    """counts: stoves by state, of all; cells: those that are shown, by number."""

    counts: Mapping[str, int]
    cells: tuple[Cell, ...]

    @property
    def whole(self) -> int:
        return sum(self.counts.values())


def find_state(stove: StoveNow) -> str:
    if stove.disposition != "release":
        return stove.disposition
    is_later = stove.inspections > 1 or stove.decided_by is not None
    return "released_later" if is_later else "released_at_once"


def lay_out_grid(
    stoves: Sequence[StoveNow], *, prefix: str, offered: int, only: str = ""
) -> StoveGrid:
    """offered: how many were to come, 0 where nobody said so; only: a state, or "" for all."""
    seen = [(find_state(stove), stove.serial) for stove in stoves]
    absent = _list_absent([stove.serial for stove in stoves], prefix, offered)
    found = [*seen, *((NOT_INSPECTED, serial) for serial in absent)]
    counts = {state: sum(one == state for one, _serial in found) for state in STATES}
    cells = [
        Cell(state, serial, _shorten(serial, prefix))
        for state, serial in sorted(found, key=lambda one: _sort_by_number(one[1], prefix))
        if only in ("", state)
    ]
    return StoveGrid(counts, tuple(cells))


def _list_absent(serials: Sequence[str], prefix: str, offered: int) -> list[str]:
    """Names of the stoves nobody inspected; empty ones where some serials are of another form, so
    that nobody can tell which of the expected ones they are.
    """
    left = offered - len(serials)
    if left <= 0:
        return []
    seen = {serial_key(serial) for serial in serials}
    expected = [name_serial(prefix, place) for place in range(1, offered + 1)]
    absent = [serial for serial in expected if serial_key(serial) not in seen]
    return absent if prefix and len(absent) == left else [""] * left


def _shorten(serial: str, prefix: str) -> str:
    number = find_serial_number(serial, prefix) if prefix else None
    return serial if number is None else str(number)


def _sort_by_number(serial: str, prefix: str) -> tuple[float, str]:
    number = find_serial_number(serial, prefix) if prefix and serial else None
    return (float("inf") if number is None else number, serial)
