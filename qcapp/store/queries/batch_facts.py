"""Reads what a batch summary is made from: a fixed number of queries, whatever the batch's size."""

import json
from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, Integer, case, func, select

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import (
    SEVERITIES,
    BatchFacts,
    ResultGroup,
    ServerEvent,
    StoveEnd,
    StovePass,
)
from qcapp.inspection.event import SERVER_MADE_KINDS
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.projections.tallies import join_results
from qcapp.store.registry import checklists
from qcapp.store.tables import CheckKey, Inspection, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE = (
    table.__table__ for table in (CheckKey, Inspection, Result, Stove)
)
OFFERED = ("release", "concession")


def load_batch_facts(connection: Connection, batch: Mapping) -> BatchFacts:
    """Raises BadInput when nothing says by which checklist the batch is inspected."""
    code = batch["code"]
    current = _list_current(connection)
    stage = _choose_stage(batch, _list_stages(connection, code), current)
    here = (STOVE.c.batch == code) & (STOVE.c.stage == stage)
    results = _list_results(connection, here)
    ends = _list_ends(connection, here)
    head = log.get_head(connection)
    return BatchFacts(
        batch=batch,
        stage=stage,
        server_id=log.get_server_id(connection),
        rests_on=(head.seq, head.chain),
        checklists=_load_used(connection, results) or _find_current(batch, stage, current),
        dispositions=_count_dispositions(connection, here),
        after_rework=_count_after_rework(connection, here),
        stoves=_list_stoves(connection, here),
        results=results,
        never_looked=_find_never_looked(connection, here),
        open_fails=_find_open_fails(connection, here),
        ends=ends,
        photos=_find_photos(connection, [end for end in ends if end.disposition == "concession"]),
        inspectors=_count_inspectors(connection, here),
        quarantined=log.count_quarantined(connection, code),
        own=tuple(list_own_events(connection, code)),
    )


def choose_batch_stage(connection: Connection, batch: Mapping) -> str:
    """The stage the batch's summary is about; errors as load_batch_facts."""
    return _choose_stage(batch, _list_stages(connection, batch["code"]), _list_current(connection))


def _list_stages(connection: Connection, code: str) -> set[str]:
    return set(
        connection.execute(select(STOVE.c.stage).where(STOVE.c.batch == code).distinct()).scalars()
    )


def _list_current(connection: Connection) -> list[Checklist]:
    return [
        Checklist.from_compiled(compiled) for _key, compiled in checklists.list_current(connection)
    ]


def list_own_events(connection: Connection, batch: str) -> list[ServerEvent]:
    """Plans, decisions, issued summaries and the buyer's answers of a batch, oldest first."""
    found = []
    for row in log.list_server_events(connection, SERVER_MADE_KINDS, batch):
        event = json.loads(row.raw)
        found.append(
            ServerEvent(
                row.seq, row.hash, row.kind, event["inspector"], event["captured_at"], event["body"]
            )
        )
    return found


def _choose_stage(batch: Mapping, stages: set[str], current: Iterable[Checklist]) -> str:
    """What is sold is the finished stove; a batch of liners alone is summed up at its own stage."""
    own = [checklist.stage for checklist in current if checklist.id in batch["checklist_ids"]]
    wanted = ["finished"] if "finished" in {*stages, *own} else [*own, *sorted(stages)]
    if not wanted:
        raise BadInput(
            phrase("no checklist says what is looked at in this batch"),
            batch["code"],
            phrase("name its checklist in the yard's file"),
        )
    return wanted[0]


def _load_used(connection: Connection, results: Iterable[ResultGroup]) -> dict[str, Checklist]:
    """Checklists by hash, the one most stoves were inspected with first."""
    inspections: dict[str, dict[str, int]] = {}
    for group in results:
        counted = inspections.setdefault(group.checklist_hash, {})
        counted[group.check_id] = counted.get(group.check_id, 0) + group.count
    order = sorted(inspections, key=lambda key: (-max(inspections[key].values()), key))
    found = checklists.load_checklists(connection, order)
    return {key: found[key] for key in order}


def _find_current(batch: Mapping, stage: str, current: Iterable[Checklist]) -> dict[str, Checklist]:
    fitting = [one for one in current if one.stage == stage and one.id in batch["checklist_ids"]]
    if not fitting:
        raise BadInput(
            phrase("no checklist says what is looked at in this batch"),
            batch["code"],
            phrase("name its checklist in the yard's file"),
        )
    return {fitting[0].hash: fitting[0]}


def _count_dispositions(connection: Connection, here) -> dict[str, int]:
    return dict(
        connection.execute(
            select(STOVE.c.disposition, func.count()).where(here).group_by(STOVE.c.disposition)
        ).all()
    )


def _count_after_rework(connection: Connection, here) -> int:
    query = select(func.count()).where(
        here, STOVE.c.disposition == "release", STOVE.c.inspections > 1
    )
    return connection.execute(query).scalar_one()


def _sum_when(condition):
    return func.sum(case((condition, 1), else_=0))


def _list_stoves(connection: Connection, here) -> tuple[StovePass, ...]:
    columns = [STOVE.c.serial, func.min(INSPECTION.c.captured_at)]
    for severity in SEVERITIES:
        is_it = CHECK_KEY.c.severity == severity
        columns += [
            _sum_when(is_it & RESULT.c.is_fail),
            _sum_when(is_it & (RESULT.c.verdict == "missing")),
        ]
    query = select(*columns).select_from(join_results()).where(here, INSPECTION.c.is_first_pass)
    rows = connection.execute(query.group_by(STOVE.c.no).order_by(STOVE.c.serial))
    return tuple(
        StovePass(
            row[0],
            row[1],
            dict(zip(SEVERITIES, row[2::2], strict=True)),
            dict(zip(SEVERITIES, row[3::2], strict=True)),
        )
        for row in rows
    )


def _list_results(connection: Connection, here) -> tuple[ResultGroup, ...]:
    """Grouped by the check's small number alone; its names are joined to the few groups, not to every result."""
    keys = (
        RESULT.c.check_no,
        STOVE.c.size,
        RESULT.c.verdict,
        RESULT.c.is_fail,
        RESULT.c.fault,
        RESULT.c.value,
    )
    inspections = RESULT.join(INSPECTION, RESULT.c.inspection_no == INSPECTION.c.no).join(
        STOVE, INSPECTION.c.stove_no == STOVE.c.no
    )
    query = (
        select(*keys, func.count().label("stoves"))
        .select_from(inspections)
        .where(here, INSPECTION.c.is_first_pass)
    )
    groups = query.group_by(*keys).subquery()
    names = (
        CHECK_KEY.c.checklist_hash,
        CHECK_KEY.c.check_id,
        CHECK_KEY.c.part,
        CHECK_KEY.c.severity,
    )
    given = (
        groups.c.size,
        groups.c.verdict,
        groups.c.is_fail,
        groups.c.fault,
        groups.c.value,
        groups.c.stoves,
    )
    named = select(*names, *given).select_from(
        groups.join(CHECK_KEY, CHECK_KEY.c.no == groups.c.check_no)
    )
    order = (
        groups.c.size,
        groups.c.verdict,
        groups.c.is_fail,
        groups.c.fault.nulls_first(),
        groups.c.value.nulls_first(),
    )
    return tuple(
        ResultGroup(*row) for row in connection.execute(named.order_by(CHECK_KEY.c.no, *order))
    )


def _list_ends(connection: Connection, here) -> tuple[StoveEnd, ...]:
    last = (
        select(func.max(INSPECTION.c.no))
        .where(INSPECTION.c.stove_no == STOVE.c.no)
        .correlate(STOVE)
        .scalar_subquery()
    )
    query = (
        select(STOVE.c.stove_key, STOVE.c.serial, STOVE.c.disposition, INSPECTION.c.reason)
        .select_from(STOVE.join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no))
        .where(here, STOVE.c.disposition != "release", INSPECTION.c.no == last)
        .order_by(STOVE.c.serial)
    )
    return tuple(StoveEnd(*row) for row in connection.execute(query))


def _find_never_looked(connection: Connection, here) -> dict[str, dict[str, int]]:
    """Offered stoves with checks that no visit looked at. Only stoves with such a check at first pass are asked for."""
    asked = (
        select(INSPECTION.c.stove_no)
        .select_from(join_results())
        .where(
            here,
            INSPECTION.c.is_first_pass,
            RESULT.c.verdict == "missing",
            STOVE.c.disposition.in_(OFFERED),
        )
        .distinct()
    )
    is_seen = func.max((RESULT.c.verdict != "missing").cast(Integer))
    unseen = (
        select(STOVE.c.serial, CHECK_KEY.c.severity)
        .select_from(join_results())
        .where(here, STOVE.c.no.in_(asked))
        .group_by(STOVE.c.no, CHECK_KEY.c.check_id, CHECK_KEY.c.severity)
        .having(is_seen == 0)
        .subquery()
    )
    found: dict[str, dict[str, int]] = {}
    query = select(unseen.c.serial, unseen.c.severity, func.count()).group_by(
        unseen.c.serial, unseen.c.severity
    )
    for serial, severity, count in connection.execute(query):
        found.setdefault(serial, dict.fromkeys(SEVERITIES, 0))[severity] = count
    return found


def _find_open_fails(connection: Connection, here) -> dict[str, dict[str, int]]:
    """{disposition: {severity: stoves}} of offered stoves whose last look at a check failed.

    Only stoves seen more than once are asked for: what a single visit released has no failed check,
    what it conceded has the faults of its first pass.
    """
    order = func.row_number().over(
        partition_by=(STOVE.c.no, CHECK_KEY.c.check_id), order_by=INSPECTION.c.no.desc()
    )
    last = (
        select(
            STOVE.c.no,
            STOVE.c.disposition,
            CHECK_KEY.c.severity,
            RESULT.c.is_fail,
            order.label("place"),
        )
        .select_from(join_results())
        .where(
            here,
            STOVE.c.inspections > 1,
            STOVE.c.disposition.in_(OFFERED),
            RESULT.c.verdict != "missing",
        )
        .subquery()
    )
    query = (
        select(last.c.disposition, last.c.severity, func.count(last.c.no.distinct()))
        .where(last.c.place == 1, last.c.is_fail)
        .group_by(last.c.disposition, last.c.severity)
    )
    found = {kind: dict.fromkeys(SEVERITIES, 0) for kind in OFFERED}
    for disposition, severity, stoves in connection.execute(query):
        found[disposition][severity] = stoves
    return found


def _find_photos(connection: Connection, conceded: list[StoveEnd]) -> dict[str, tuple[str, ...]]:
    events = log.list_stove_events(connection, [end.stove_key for end in conceded])
    found = {}
    for end in conceded:
        inspections = fold_stove(events[end.stove_key])["inspections"]
        found[end.serial] = tuple(
            dict.fromkeys(photo for inspection in inspections for photo in inspection["photos"])
        )
    return found


def _count_inspectors(connection: Connection, here) -> dict[str, int]:
    query = (
        select(INSPECTION.c.inspector, func.count(INSPECTION.c.stove_no.distinct()))
        .select_from(INSPECTION.join(STOVE, INSPECTION.c.stove_no == STOVE.c.no))
        .where(here)
        .group_by(INSPECTION.c.inspector)
        .order_by(INSPECTION.c.inspector)
    )
    return dict(connection.execute(query).all())
