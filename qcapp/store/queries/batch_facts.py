"""Reads what a batch summary is made from: a fixed number of queries, whatever the batch's size."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, select

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import BatchFacts, BatchOutline, BuyersLook, ServerEvent
from qcapp.inspection.event import SERVER_MADE_KINDS
from qcapp.inspection.study import RECHECK
from qcapp.store import log
from qcapp.store.queries import batch_stoves
from qcapp.store.queries.batch_series import list_earlier_counts
from qcapp.store.queries.photo_answers import list_photo_passes
from qcapp.store.registry.checklists import list_current_checklists, load_checklists
from qcapp.store.registry.devices import is_rechecked
from qcapp.store.tables import STOVE


def load_batch_outline(connection: Connection, batch: Mapping[str, Any]) -> BatchOutline:
    """Its stage and plan without what was found; errors as load_batch_facts."""
    code = batch["code"]
    stage, current = _find_stage(connection, batch)
    here = (STOVE.c.batch == code) & (STOVE.c.stage == stage)
    counts = batch_stoves.count_checks(connection, here)
    return BatchOutline(
        batch=batch,
        stage=stage,
        checklists=_load_used(connection, counts) or _find_current(batch, stage, current),
        server_events=tuple(list_batch_events(connection, code, ("plan",))),
    )


def load_batch_facts(connection: Connection, batch: Mapping[str, Any]) -> BatchFacts:
    """Raises BadInput when nothing says by which checklist the batch is inspected."""
    code = batch["code"]
    stage, current = _find_stage(connection, batch)
    here = (STOVE.c.batch == code) & (STOVE.c.stage == stage)
    results = batch_stoves.list_result_groups(connection, here)
    ends = batch_stoves.list_ends(connection, here)
    counts = ((one.checklist_hash, one.check_id, one.count) for one in results)
    checklists = _load_used(connection, counts) or _find_current(batch, stage, current)
    head = log.get_head(connection)
    return BatchFacts(
        batch=batch,
        stage=stage,
        server_id=log.get_server_id(connection),
        rests_on=(head.seq, head.chain),
        checklists=checklists,
        dispositions=batch_stoves.count_dispositions(connection, here),
        released_later=batch_stoves.count_released_later(connection, here),
        stoves=batch_stoves.list_first_passes(connection, here),
        results=results,
        photo_passes=list_photo_passes(connection, here),
        never_looked=batch_stoves.find_never_looked(connection, here),
        open_fails=batch_stoves.find_open_fails(connection, here),
        ends=ends,
        conceded_faults=batch_stoves.list_conceded_faults(connection, here),
        photos=batch_stoves.find_photos(connection, ends),
        inspected_on=batch_stoves.find_days(connection, here),
        buyers_looks=tuple(list_buyers_looks(connection, code)),
        inspectors=batch_stoves.count_inspectors(connection, here),
        quarantined=log.count_quarantined(connection, code),
        server_events=tuple(list_batch_events(connection, code)),
        earlier=tuple(list_earlier_counts(connection, batch, next(iter(checklists.values())))),
    )


def choose_batch_stage(connection: Connection, batch: Mapping[str, Any]) -> str:
    """The stage the batch's summary is about; errors as load_batch_facts."""
    return _find_stage(connection, batch)[0]


def _find_stage(connection: Connection, batch: Mapping[str, Any]) -> tuple[str, list[Checklist]]:
    """With the current checklists."""
    current = list_current_checklists(connection)
    return _choose_stage(batch, _list_stages(connection, batch["code"]), current), current


def list_batch_events(
    connection: Connection, batch: str, kinds: Sequence[str] = SERVER_MADE_KINDS
) -> list[ServerEvent]:
    """Plans, decisions, issued summaries and the buyer's answers of a batch, oldest first."""
    found = []
    for record in log.list_server_events(connection, kinds, batch):
        event = json.loads(record.raw)
        found.append(
            ServerEvent(
                record.seq,
                record.hash,
                record.kind,
                event["inspector"],
                event["captured_at"],
                event["body"],
            )
        )
    return found


def list_buyers_looks(connection: Connection, batch: str) -> list[BuyersLook]:
    """Oldest first. Every answer of a study is read, so only where such a phone has joined."""
    if not is_rechecked(connection, batch):
        return []
    return [
        BuyersLook(event["body"]["stove"], event["captured_at"], event["body"]["answers"])
        for event in log.list_by_kind(connection, "study_answer")
        if event["body"]["study"] == f"{RECHECK}{batch}"
    ]


def _list_stages(connection: Connection, code: str) -> set[str]:
    query = select(STOVE.c.stage).where(STOVE.c.batch == code).distinct()
    return set(connection.execute(query).scalars())


def _choose_stage(batch: Mapping[str, Any], stages: set[str], current: Iterable[Checklist]) -> str:
    """What is sold is the finished stove; a batch of liners alone is summed up at its own stage."""
    planned = [checklist.stage for checklist in current if checklist.id in batch["checklist_ids"]]
    if "finished" in stages or "finished" in planned:
        return "finished"
    wanted = [*planned, *sorted(stages)]
    if not wanted:
        raise _no_checklist(batch)
    return wanted[0]


def _load_used(
    connection: Connection, counts: Iterable[tuple[str, str, int]]
) -> dict[str, Checklist]:
    """Checklists by hash, the one most stoves were inspected with first.

    counts: (hash, check, how often it was asked).
    """
    inspections: dict[str, dict[str, int]] = {}
    for key, check, count in counts:
        counted = inspections.setdefault(key, {})
        counted[check] = counted.get(check, 0) + count
    order = sorted(inspections, key=lambda key: (-max(inspections[key].values()), key))
    found = load_checklists(connection, order)
    return {key: found[key] for key in order}


def _find_current(
    batch: Mapping[str, Any], stage: str, current: Iterable[Checklist]
) -> dict[str, Checklist]:
    fitting = [one for one in current if one.stage == stage and one.id in batch["checklist_ids"]]
    if not fitting:
        raise _no_checklist(batch)
    return {fitting[0].hash: fitting[0]}


def _no_checklist(batch: Mapping[str, Any]) -> BadInput:
    return BadInput(
        phrase("this batch has no checklist"),
        batch["code"],
        phrase("choose one on the page Open batches"),
    )
