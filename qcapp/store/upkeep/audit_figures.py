"""Makes every figure again from the log and compares it with the one that was kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, select

from qcapp.store.projections import stove_projection
from qcapp.store.projections.stove_rows import Figures, list_figure_rows
from qcapp.store.tables import MADE_FROM, SUMMARY, TALLY

MAX_NAMED = 20
Key = TypeVar("Key", str, tuple[str, int], tuple[str, str])


@dataclass(frozen=True)
class Altered:
    """row: which one, in words; what: how it does not fit."""

    row: str
    what: str

    def __str__(self) -> str:
        return f"{self.row}: {self.what}"


@dataclass(frozen=True)
class Projections:
    """Everything that is made from the log, as it stands."""

    stoves: Figures
    summaries: dict[tuple[str, int], tuple[Any, ...]]
    tallies: set[Row[Any]]
    made_from: dict[tuple[str, str], tuple[Any, ...]]


def find_altered_figures(connection: Connection) -> list[Altered]:
    """Rebuilds the projections: for a transaction whose writing is given back."""
    kept = _read(connection)
    stove_projection.rebuild(connection)
    made = _read(connection)
    stoves = sorted(
        {
            *_list_different(kept.stoves, made.stoves),
            *(key for key, _stage in _list_different(kept.made_from, made.made_from)),
        }
    )
    summaries = _list_different(kept.summaries, made.summaries)
    batches = sorted({row.batch for row in kept.tallies ^ made.tallies})
    left_out = len(stoves) - MAX_NAMED
    return [
        *(
            Altered(
                f"stove {key}",
                "its figures are not those the log gives; qcapp rebuild makes them again",
            )
            for key in stoves[:MAX_NAMED]
        ),
        *(
            Altered(
                f"summary {number} of batch {batch}",
                "its row is not what its record says; qcapp rebuild makes it again",
            )
            for batch, number in summaries
        ),
        *(
            Altered(
                f"the sums of batch {batch}",
                "they are not those the log gives; qcapp rebuild makes them again",
            )
            for batch in batches[:MAX_NAMED]
        ),
        *([Altered(f"{left_out} more stoves", "the same")] if left_out > 0 else []),
    ]


def _list_different(kept: Mapping[Key, object], made: Mapping[Key, object]) -> list[Key]:
    return sorted(key for key in kept.keys() | made.keys() if kept.get(key) != made.get(key))


def _read(connection: Connection) -> Projections:
    summaries = connection.execute(select(SUMMARY))
    return Projections(
        list_figure_rows(connection),
        {(row.batch, row.number): tuple(row) for row in summaries},
        set(connection.execute(select(TALLY)).all()),
        {row[:2]: tuple(row) for row in connection.execute(select(MADE_FROM)).all()},
    )
