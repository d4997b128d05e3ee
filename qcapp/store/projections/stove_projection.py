"""Tables made from the log: what a stove is now, and what each check of an inspection gave.

Every refreshed stove is folded anew from all its events and its rows are written again,
so the order in which events arrive cannot change a figure.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count as count_from
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select

from qcapp.checklist.model import Checklist
from qcapp.inspection.counts import CheckResult, list_results, verdict_differences
from qcapp.inspection.pieces import find_made_from
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.tallies import subtract
from qcapp.store import log
from qcapp.store.chunks import chunked
from qcapp.store.projections import tallies
from qcapp.store.projections.summaries import rebuild_summaries
from qcapp.store.registry.checklists import load_checklists
from qcapp.store.tables import CHECK_KEY, INSPECTION, MADE_FROM, RESULT, STOVE

Values = dict[str, Any]


@dataclass(frozen=True)
class StoveRows:
    """The new rows of some stoves; results: (number of the inspection, result)."""

    stoves: list[Values] = field(default_factory=list)
    inspections: list[Values] = field(default_factory=list)
    results: list[tuple[int, CheckResult]] = field(default_factory=list)
    made_from: list[Values] = field(default_factory=list)


def refresh_stoves(connection: Connection, stove_keys: Iterable[str]) -> None:
    """Folds the stoves and writes their rows; part of the caller's writer transaction."""
    for keys in chunked(dict.fromkeys(stove_keys)):
        _refresh(connection, keys)


def rebuild(
    connection: Connection, tell: Callable[[int, int], None] = lambda _done, _total: None
) -> int:
    """Drops every projection row and makes them again from the log; gives the stoves made.

    tell: called before each piece and at the end with the stoves done and all of them.
    """
    tallies.drop_tallies(connection)
    for table in (RESULT, INSPECTION, STOVE, CHECK_KEY, MADE_FROM):
        connection.execute(delete(table))
    stove_keys, done = log.list_stove_keys(connection), 0
    for keys in chunked(stove_keys):
        tell(done, len(stove_keys))
        _refresh(connection, keys)
        done += len(keys)
    tell(done, len(stove_keys))
    rebuild_summaries(connection)
    return done


def _refresh(connection: Connection, keys: Sequence[str]) -> None:
    events = log.list_stove_events(connection, keys)
    states = {key: fold_stove(events[key]) for key in keys}
    hashes = {
        inspection["checklist_hash"]
        for state in states.values()
        for inspection in state["inspections"]
    }
    checklists = load_checklists(connection, hashes)
    before = tallies.count_stoves(connection, keys)
    _drop_rows(connection, keys)
    rows = _build_rows(connection, states, checklists)
    for table, values in (
        (STOVE, rows.stoves),
        (INSPECTION, rows.inspections),
        (MADE_FROM, rows.made_from),
        (RESULT, _build_result_rows(connection, rows.results, checklists)),
    ):
        if values:
            connection.execute(insert(table), values)
    tallies.add_tallies(connection, subtract(tallies.count_stoves(connection, keys), before))


def _drop_rows(connection: Connection, keys: Sequence[str]) -> None:
    stove_nos = select(STOVE.c.no).where(STOVE.c.stove_key.in_(keys))
    inspection_nos = select(INSPECTION.c.no).where(INSPECTION.c.stove_no.in_(stove_nos))
    connection.execute(delete(RESULT).where(RESULT.c.inspection_no.in_(inspection_nos)))
    connection.execute(delete(INSPECTION).where(INSPECTION.c.stove_no.in_(stove_nos)))
    connection.execute(delete(STOVE).where(STOVE.c.stove_key.in_(keys)))
    connection.execute(delete(MADE_FROM).where(MADE_FROM.c.stove_key.in_(keys)))


def _build_rows(
    connection: Connection, states: Mapping[str, Values], checklists: Mapping[str, Checklist]
) -> StoveRows:
    next_stove, next_inspection = _count_on(connection, STOVE), _count_on(connection, INSPECTION)
    rows = StoveRows()
    for key, state in states.items():
        if not state["inspections"]:
            continue
        results = list_results(key, state, checklists)
        stove_no = next(next_stove)
        first = checklists[state["inspections"][0]["checklist_hash"]]
        rows.stoves.append(_build_stove_row(stove_no, key, state, results, first))
        links = find_made_from(key, state, checklists)
        rows.made_from.extend(link._asdict() for link in links)
        nos = {inspection["id"]: next(next_inspection) for inspection in state["inspections"]}
        rows.inspections.extend(
            _build_inspection_row(nos[inspection["id"]], stove_no, inspection, state, checklists)
            for inspection in state["inspections"]
        )
        rows.results.extend((nos[result.inspection_id], result) for result in results)
    return rows


def _count_on(connection: Connection, table: Table) -> Iterator[int]:
    last = connection.execute(select(func.coalesce(func.max(table.c.no), 0))).scalar_one()
    return count_from(last + 1)


def _build_stove_row(
    no: int,
    key: str,
    state: Mapping[str, Any],
    results: Sequence[CheckResult],
    checklist: Checklist,
) -> Values:
    first, last = state["inspections"][0], state["inspections"][-1]
    return {
        "no": no,
        "stove_key": key,
        "stage": key.partition("/")[0],
        "checklist": checklist.id,
        "serial": first["stove"],
        "batch": first["batch"],
        "size": first["body"]["size"],
        "disposition": state["disposition"],
        "inspections": len(state["inspections"]),
        "has_first_pass_fail": any(
            result.first_pass and result.counts_as_fail for result in results
        ),
        "has_first_pass_gap": any(
            result.first_pass and result.verdict == "missing" for result in results
        ),
        "is_corrected_twice": state["corrected_twice"],
        "last_at": last["captured_at"],
        "decided_by": state["decided"]["by"] if state["decided"] else None,
        "decision_reason": state["decided"]["reason"] if state["decided"] else None,
    }


def _build_inspection_row(
    no: int,
    stove_no: int,
    inspection: Mapping[str, Any],
    state: Mapping[str, Any],
    checklists: Mapping[str, Checklist],
) -> Values:
    disposition = inspection["body"]["disposition"]
    return {
        "no": no,
        "stove_no": stove_no,
        "event_id": inspection["id"],
        "is_first_pass": inspection is state["inspections"][0],
        "inspector": inspection["inspector"],
        "device_id": inspection["device_id"],
        "captured_at": inspection["captured_at"],
        "disposition": disposition["kind"],
        "reason": disposition.get("reason"),
        "differences": json.dumps(verdict_differences(inspection, checklists)),
    }


def _build_result_rows(
    connection: Connection,
    results: Sequence[tuple[int, CheckResult]],
    checklists: Mapping[str, Checklist],
) -> list[Values]:
    check_nos = _ensure_check_nos(connection, checklists)
    return [
        {
            "inspection_no": inspection_no,
            "check_no": check_nos[result.checklist_hash, result.check_id],
            "artisan": result.artisan,
            "verdict": result.verdict,
            "is_fail": result.counts_as_fail,
            "fault": result.fault,
            "value": result.value,
        }
        for inspection_no, result in results
    ]


def _ensure_check_nos(
    connection: Connection, checklists: Mapping[str, Checklist]
) -> dict[tuple[str, str], int]:
    known = _list_check_nos(connection, checklists)
    known_hashes = {checklist_hash for checklist_hash, _check_id in known}
    missing = [
        {
            "checklist": checklist.id,
            "checklist_hash": key,
            "check_id": check.id,
            "part": check.part,
            "step": check.step,
            "severity": check.severity,
        }
        for key, checklist in sorted(checklists.items())
        if key not in known_hashes
        for check in checklist.checks
    ]
    if missing:
        connection.execute(insert(CHECK_KEY), missing)
        known = _list_check_nos(connection, checklists)
    return known


def _list_check_nos(connection: Connection, hashes: Iterable[str]) -> dict[tuple[str, str], int]:
    query = select(CHECK_KEY).where(CHECK_KEY.c.checklist_hash.in_(list(hashes)))
    return {(row.checklist_hash, row.check_id): row.no for row in connection.execute(query)}
