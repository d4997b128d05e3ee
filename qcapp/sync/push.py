"""Taking a push: each event gets its own outcome, all in one writer transaction."""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal, NamedTuple

from pydantic import ValidationError
from sqlalchemy import Connection

from qcapp.errors import BadInput
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections import stove_projection
from qcapp.store.registry import photos
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.allowance import Allowance
from qcapp.sync.arrived import Arrived, freeze_arrived, read_text
from qcapp.sync.authorship import (
    Introduced,
    find_author_reason,
    find_role_reason,
    introduce_phones,
    is_unproven,
    load_makers,
    note_copies,
)
from qcapp.sync.brought_checklists import keep_brought_checklists
from qcapp.sync.brought_drawings import keep_brought_drawings
from qcapp.sync.device_notes import find_clock_offset_ms, note_device
from qcapp.sync.facts import Facts
from qcapp.sync.load_facts import load_facts
from qcapp.sync.photos import list_named
from qcapp.sync.protocol import (
    PROTOCOL,
    EventResult,
    Position,
    PushAnswer,
    PushRequest,
)
from qcapp.sync.quarantine import list_accepted_hashes
from qcapp.sync.quarantine_decisions import accept_proven
from qcapp.sync.quarantine_reasons import OTHER_CONTENT_FIRST, OVER_ALLOWANCE
from qcapp.sync.restore_marker import compare
from qcapp.sync.validation import build_entry

# What the lead hands in by the page or the command has no allowance.
IMPORTED = "import"
UNLIMITED = (IMPORTED,)


class Kept(NamedTuple):
    """How an event stands in the log; seq: None while it has no number yet."""

    state: log.State
    reason: str | None
    seq: int | None


def parse_push(data: Any) -> PushRequest:
    """Raises BadInput when the envelope (not an event in it) cannot be read."""
    try:
        request = PushRequest.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise BadInput(
            phrase("the push cannot be read: %(msg)s", msg=first["msg"]),
            place,
            phrase("update the app; nothing is lost"),
        ) from error
    if request.protocol != PROTOCOL:
        raise BadInput(
            phrase("protocol %(protocol)s is not supported", protocol=request.protocol),
            "protocol",
            phrase(
                "this server uses protocol %(protocol)s; update the older of the two, nothing is "
                "lost",
                protocol=PROTOCOL,
            ),
        )
    return request


def receive_push(
    store: Store,
    request: PushRequest,
    *,
    relayed_by: str,
    now: datetime,
    buyer_batch: str | None = None,
) -> PushAnswer:
    """Stores what is new and answers per event, in the order they came. buyer_batch: of a phone of
    the buyer's inspector.
    """
    arrived = _freeze(request)
    fitting = [one for one in arrived if one.refusal is None]
    with store.writing() as connection:
        allowance = Allowance(connection, None if relayed_by in UNLIMITED else relayed_by, now)
        if buyer_batch is None:
            keep_brought_checklists(connection, request.definitions, allowance, now)
        introduced = introduce_phones(connection, request, fitting, relayed_by, now)
        facts = replace(_load_facts(connection, fitting), buyer_batch=buyer_batch)
        find_reason = _look_for_authors(connection, fitting, facts, introduced, relayed_by)
        entries = [build_entry(one, facts, find_reason) for one in fitting]
        keep_brought_drawings(connection, request.drawings, allowance)
        results, fresh = _sort_out(connection, entries, allowance)
        allowance.keep()
        head = log.append(
            connection,
            fresh,
            received_at=format_timestamp(now),
            relayed_by=relayed_by,
            clock_offset_ms=find_clock_offset_ms(request.device, now),
        )
        _place(entries, results, fresh, head.seq)
        at_hand = _list_at_hand(fitting, results, facts)
        note_copies(connection, fresh, now)
        accept_proven(connection, entries, results, now)
        _project(connection, fresh, at_hand)
        lineage = compare(connection, request.have)
        note_device(
            connection, relayed_by, request, results, lineage, now, is_its_own=introduced.is_its_own
        )
    answers = iter(results)
    return PushAnswer(
        request_id=request.request_id,
        lineage=lineage,
        head=Position(seq=head.seq, chain=head.chain),
        results=[_refuse(one) if one.refusal else next(answers) for one in arrived],
    )


def _freeze(request: PushRequest) -> list[Arrived]:
    """Each event with its signature; an older phone sends none."""
    given = itertools.chain(request.signatures, itertools.repeat(None))
    return [
        freeze_arrived(event, signature)
        for event, signature in zip(request.events, given, strict=False)
    ]


def _project(
    connection: Connection, fresh: Sequence[log.Entry], at_hand: stove_projection.AtHand
) -> None:
    """The log's new rows in the tables that are made from it."""
    photos.add_names(connection, (name for entry in fresh for name in list_named(entry.raw)))
    counted = [entry.stove_key for entry in fresh if entry.stove_key and entry.state == "counted"]
    stove_projection.refresh_stoves(connection, counted, at_hand)


def _load_facts(connection: Connection, arrived: Sequence[Arrived]) -> Facts:
    """What these records are checked against."""
    contents = [one.content for one in arrived]
    kinds = {kind for one in contents if isinstance(kind := one.get("kind"), str)}
    return load_facts(
        connection,
        (one.get("checklist_hash") for one in contents),
        (one.get("batch") for one in contents),
        has_study="study_answer" in kinds,
        has_gauge="gauge_check" in kinds,
    )


def _look_for_authors(
    connection: Connection,
    arrived: Sequence[Arrived],
    facts: Facts,
    introduced: Introduced,
    relayed_by: str,
) -> Callable[[Arrived], Message | None]:
    makers = load_makers(connection, [one.content for one in arrived], facts)

    def find_reason(one: Arrived) -> Message | None:
        return find_author_reason(
            one.content, one.hash, one.signature, introduced.authors, relayed_by
        ) or find_role_reason(one.content, facts, makers)

    return find_reason


def _sort_out(
    connection: Connection, entries: list[log.Entry], allowance: Allowance
) -> tuple[list[EventResult], list[log.Entry]]:
    """Outcome of each entry, and those to append (new ones, and other content under a known id)."""
    known: dict[str, dict[str, Kept]] = {}
    for row in log.list_known(connection, (entry.id for entry in entries)):
        known.setdefault(row.id, {})[row.hash] = Kept(row.state, row.reason, row.seq)
    results, fresh = [], []
    for entry in entries:
        same_id = known.setdefault(entry.id, {})
        if entry.hash in same_id:
            # A lost answer must not hide a quarantine: the repeat says again what the first said.
            results.append(_build_result(entry.id, same_id[entry.hash], "duplicate"))
            continue
        if not allowance.take_record(len(entry.raw)):
            results.append(EventResult(id=entry.id, outcome="retry", reason=OVER_ALLOWANCE()))
            continue
        added = entry if _is_free(connection, same_id) else _as_conflict(entry)
        fresh.append(added)
        same_id[entry.hash] = Kept(added.state, added.reason, None)
        results.append(_build_result(entry.id, same_id[entry.hash], "created"))
    return results, fresh


def _is_free(connection: Connection, same_id: Mapping[str, Kept]) -> bool:
    """Whether no content under an id has a claim to it: none, or those that nobody has proven."""
    if not all(_is_unproven(kept.reason) for kept in same_id.values()):
        return False
    return not same_id or same_id.keys().isdisjoint(list_accepted_hashes(connection))


def _is_unproven(reason: str | None) -> bool:
    """Whoever knows a record's id could else keep the true one out by a forged one before it."""
    return is_unproven(Message.from_text(reason) if reason else None)


def _as_conflict(entry: log.Entry) -> log.Entry:
    reason = entry.reason if _is_unproven(entry.reason) else OTHER_CONTENT_FIRST().to_text()
    return replace(entry, state="conflict", reason=reason)


def _build_result(
    event_id: str, kept: Kept, counted: Literal["created", "duplicate"]
) -> EventResult:
    """counted: the outcome of an event that counts."""
    return EventResult(
        id=event_id,
        outcome=counted if kept.state == "counted" else kept.state,
        reason=Message.from_text(kept.reason) if kept.reason else None,
        seq=kept.seq,
    )


def _place(
    entries: list[log.Entry], results: list[EventResult], fresh: list[log.Entry], last: int
) -> None:
    """Gives the results of what was just appended their numbers; `last` is that of the last one."""
    numbers = {(entry.id, entry.hash): last - back for back, entry in enumerate(reversed(fresh))}
    for entry, result in zip(entries, results, strict=True):
        if result.seq is None and result.outcome != "retry":
            result.seq = numbers[entry.id, entry.hash]


def _list_at_hand(
    arrived: Sequence[Arrived], results: Sequence[EventResult], facts: Facts
) -> stove_projection.AtHand:
    """For the fold, in the state in which the records were stored."""
    events = {
        result.seq: one.content
        for one, result in zip(arrived, results, strict=True)
        if result.outcome == "created" and result.seq is not None
    }
    return stove_projection.AtHand(events, facts.checklists, facts.judged)


def _refuse(arrived: Arrived) -> EventResult:
    return EventResult(
        id=read_text(arrived.content.get("id")), outcome="retry", reason=arrived.refusal
    )
