"""Tables made from the log: what a stove is now, and what each check of an inspection gave.

Every refreshed stove is folded anew from all its events and its rows are written again,
so the order in which events arrive cannot change a figure.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, bindparam, delete, select

from qcapp.checklist.model import Checklist
from qcapp.inspection.judged import JudgedInspections
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.tallies import Counts, TallyKey, subtract
from qcapp.store import log
from qcapp.store.chunks import chunked
from qcapp.store.insert_rows import insert_rows, insert_tuples
from qcapp.store.projections import tallies
from qcapp.store.projections.build_rows import RESULT_COLUMNS, build_rows
from qcapp.store.projections.summaries import rebuild_summaries
from qcapp.store.registry.checklists import load_checklists
from qcapp.store.tables import CHECK_KEY, INSPECTION, MADE_FROM, RESULT, STOVE


@dataclass(frozen=True)
class AtHand:
    """What a caller has read and judged in this transaction: nothing is done twice.

    events: contents by number in the log; checklists: by hash.
    """

    events: Mapping[int, dict[str, Any]] = field(default_factory=dict)
    checklists: Mapping[str, Checklist] = field(default_factory=dict)
    judged: JudgedInspections = field(default_factory=JudgedInspections)


def refresh_stoves(
    connection: Connection, stove_keys: Iterable[str], at_hand: AtHand | None = None
) -> None:
    """Folds the stoves and writes their rows; part of the caller's writer transaction."""
    for keys in chunked(dict.fromkeys(stove_keys)):
        _refresh(connection, keys, at_hand or AtHand())


def rebuild(
    connection: Connection, tell: Callable[[int, int], None] = lambda _done, _total: None
) -> int:
    """Drops every projection row and makes them again from the log; gives the stoves made.

    tell: called before each piece and at the end with the stoves done and all of them.
    """
    tallies.drop_tallies(connection)
    for table in (RESULT, INSPECTION, STOVE, CHECK_KEY, MADE_FROM):
        connection.execute(delete(table))
    total, done = log.count_stove_keys(connection), 0
    for keys in log.walk_stove_keys(connection):
        tell(done, total)
        _refresh(connection, keys, AtHand())
        done += len(keys)
    tell(done, total)
    rebuild_summaries(connection)
    return done


def _refresh(connection: Connection, keys: Sequence[str], at_hand: AtHand) -> None:
    events = log.list_stove_events(connection, keys, at_hand.events)
    states = {key: fold_stove(events[key]) for key in keys}
    checklists = _find_checklists(connection, states.values(), at_hand)
    before = _take_away(connection, keys)
    rows = build_rows(connection, states, checklists, at_hand.judged)
    insert_rows(connection, STOVE, rows.stoves)
    insert_rows(connection, INSPECTION, rows.inspections)
    insert_rows(connection, MADE_FROM, rows.made_from)
    insert_tuples(connection, RESULT, RESULT_COLUMNS, rows.results)
    tallies.add_tallies(connection, subtract(tallies.count_rows(rows), before))


def _find_checklists(
    connection: Connection, states: Iterable[Mapping[str, Any]], at_hand: AtHand
) -> dict[str, Checklist]:
    """By hash, all that the inspections name, where they are known here."""
    named = {one["checklist_hash"] for state in states for one in state["inspections"]}
    found = {key: at_hand.checklists[key] for key in named if key in at_hand.checklists}
    lacking = named - found.keys()
    return found | (load_checklists(connection, lacking) if lacking else {})


# Made once: every push asks it.
_KEPT = select(STOVE.c.stove_key).where(
    STOVE.c.stove_key.in_(bindparam("stove_keys", expanding=True))
)


def _take_away(connection: Connection, keys: Sequence[str]) -> dict[TallyKey, Counts]:
    """Drops the stoves' rows, and gives what they had added to the tallies."""
    kept = list(connection.execute(_KEPT, {"stove_keys": keys}).scalars())
    if not kept:
        return {}
    counts = tallies.count_stoves(connection, kept)
    _drop_rows(connection, kept)
    return counts


def _drop_rows(connection: Connection, keys: Sequence[str]) -> None:
    stove_nos = select(STOVE.c.no).where(STOVE.c.stove_key.in_(keys))
    inspection_nos = select(INSPECTION.c.no).where(INSPECTION.c.stove_no.in_(stove_nos))
    connection.execute(delete(RESULT).where(RESULT.c.inspection_no.in_(inspection_nos)))
    connection.execute(delete(INSPECTION).where(INSPECTION.c.stove_no.in_(stove_nos)))
    connection.execute(delete(STOVE).where(STOVE.c.stove_key.in_(keys)))
    connection.execute(delete(MADE_FROM).where(MADE_FROM.c.stove_key.in_(keys)))
