"""The rows of folded stoves, and what they add to the tallies."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count as count_from
from typing import Any

from sqlalchemy import Connection, func, select

from qcapp.checklist.model import Checklist
from qcapp.inspection.counts import CheckResult, list_results, verdict_differences
from qcapp.inspection.judged import JudgedInspections
from qcapp.inspection.pieces import find_made_from
from qcapp.inspection.tallies import CountedInspection
from qcapp.store.projections.check_numbers import ensure_check_nos
from qcapp.store.tables import INSPECTION, STOVE

Values = dict[str, Any]
RESULT_COLUMNS = ("inspection_no", "check_no", "artisan", "verdict", "is_fail", "fault", "value")


@dataclass(frozen=True)
class StoveRows:
    """results: values of RESULT_COLUMNS; counted: the same results as tallies count them."""

    stoves: list[Values] = field(default_factory=list)
    inspections: list[Values] = field(default_factory=list)
    made_from: list[Values] = field(default_factory=list)
    results: list[tuple[Any, ...]] = field(default_factory=list)
    counted: list[CountedInspection] = field(default_factory=list)


def build_rows(
    connection: Connection,
    states: Mapping[str, Values],
    checklists: Mapping[str, Checklist],
    judged: JudgedInspections,
) -> StoveRows:
    """Of the stoves that have an inspection left. states: folded, by stove key; checklists: by
    hash, all that they name.
    """
    check_nos = ensure_check_nos(connection, checklists)
    next_stove, next_inspection = _find_next_numbers(connection)
    rows = StoveRows()
    for key, state in states.items():
        if not state["inspections"]:
            continue
        results = [list_results(one, checklists, judged) for one in state["inspections"]]
        stove_no = next(next_stove)
        first = checklists[state["inspections"][0]["checklist_hash"]]
        stove = _build_stove_row(stove_no, key, state, results[0], first)
        rows.stoves.append(stove)
        links = find_made_from(key, state, checklists)
        rows.made_from.extend(link._asdict() for link in links)
        for inspection, own in zip(state["inspections"], results, strict=True):
            row = _build_inspection_row(next(next_inspection), stove_no, inspection, state)
            differences = verdict_differences(inspection, checklists, judged)
            rows.inspections.append(row | {"differences": json.dumps(differences)})
            checklist = checklists[inspection["checklist_hash"]]
            numbers = check_nos[inspection["checklist_hash"]]
            rows.results.extend(_list_result_rows(row["no"], own, numbers))
            rows.counted.append(_count(stove, row, own, checklist))
    return rows


# Made once: every push asks it.
_LAST_NUMBERS = select(
    *(
        select(func.coalesce(func.max(table.c.no), 0)).scalar_subquery()
        for table in (STOVE, INSPECTION)
    )
)


def _find_next_numbers(connection: Connection) -> tuple[Iterator[int], Iterator[int]]:
    """Of stoves and of inspections."""
    stove_no, inspection_no = connection.execute(_LAST_NUMBERS).one()
    return count_from(stove_no + 1), count_from(inspection_no + 1)


def _list_result_rows(
    inspection_no: int, results: Iterable[CheckResult], check_nos: Mapping[str, int]
) -> list[tuple[Any, ...]]:
    """By slices, for there are many: the check's id; artisan to fault."""
    return [
        (inspection_no, check_nos[counted[0]], *counted[4:], value) for counted, value in results
    ]


def _count(
    stove: Values, inspection: Values, results: Iterable[CheckResult], checklist: Checklist
) -> CountedInspection:
    """As store/projections/tallies.py reads it from these rows."""
    day, is_first_pass = inspection["captured_at"][:10], inspection["is_first_pass"]
    of_stove = (stove["batch"], stove["size"], stove["stage"])
    counted = tuple(one.counted for one in results)
    return CountedInspection(day, *of_stove, checklist.id, is_first_pass, counted)


def _build_stove_row(
    no: int,
    key: str,
    state: Mapping[str, Any],
    first_pass: Sequence[CheckResult],
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
        "has_first_pass_fail": any(counted.is_fail for counted, _value in first_pass),
        "has_first_pass_gap": any(counted.verdict == "missing" for counted, _value in first_pass),
        "is_corrected_twice": state["corrected_twice"],
        "last_at": last["captured_at"],
        "decided_by": state["decided"]["by"] if state["decided"] else None,
        "decision_reason": state["decided"]["reason"] if state["decided"] else None,
    }


def _build_inspection_row(
    no: int, stove_no: int, inspection: Mapping[str, Any], state: Mapping[str, Any]
) -> Values:
    """All but the differences."""
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
    }
