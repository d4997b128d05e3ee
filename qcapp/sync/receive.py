"""Taking a push: each event gets its own outcome, all in one writer transaction."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, QcappError
from qcapp.store import batches, checklists, devices, log, people, photos, projections
from qcapp.store.engine import Store
from qcapp.store.moment import as_moment, as_text
from qcapp.sync.admit import Arrived, Facts, build_entry, freeze_arrived
from qcapp.sync.photos import list_photo_names
from qcapp.sync.protocol import (
    MOST_EVENT_BYTES,
    PROTOCOLS,
    DeviceNote,
    EventResult,
    Position,
    PushAnswer,
    PushRequest,
)


def parse_push(data: Any) -> PushRequest:
    """Raises BadInput when the envelope (not an event in it) cannot be read."""
    try:
        request = PushRequest.model_validate(data)
    except ValidationError as trouble:
        first = trouble.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise BadInput(f"the push cannot be read: {first['msg']}", place, "update the app; nothing is lost") from trouble
    if request.protocol not in PROTOCOLS:
        raise BadInput(
            f"protocol {request.protocol} is not spoken here", "protocol", f"this server speaks {list(PROTOCOLS)}; it needs an update"
        )
    return request


def receive_push(store: Store, request: PushRequest, *, relayed_by: str, now: datetime) -> PushAnswer:
    """Stores what is new and answers per event, in the order they came."""
    arrived = [freeze_arrived(event) for event in request.events]
    fitting = [one for one in arrived if not _is_too_large(one)]
    with store.writing() as connection:
        _keep_definitions(connection, request.definitions, now)
        facts = load_facts(connection, (one.content.get("checklist_hash") for one in fitting))
        entries = [build_entry(one, facts) for one in fitting]
        results, fresh = _sort_out(connection, entries)
        head = log.append(
            connection,
            fresh,
            received_at=as_text(now),
            relayed_by=relayed_by,
            clock_offset_ms=_clock_offset_ms(request.device, now),
        )
        photos.add_names(connection, (name for one in fitting for name in list_photo_names(one.content)))
        counted = [entry.stove_key for entry in fresh if entry.stove_key and entry.state == "counted"]
        projections.refresh_stoves(connection, counted)
        _note_device(connection, relayed_by, request.device, now)
        lineage = _compare(connection, request.have)
    answers = iter(results)
    return PushAnswer(
        request_id=request.request_id,
        lineage=lineage,
        head=Position(seq=head.seq, chain=head.chain),
        results=[_too_large(one) if _is_too_large(one) else next(answers) for one in arrived],
    )


def _sort_out(connection: Connection, entries: list[log.Entry]) -> tuple[list[EventResult], list[log.Entry]]:
    """Outcome of each entry, and those to append (new ones, and other content under a known id)."""
    known: dict[str, dict[str, tuple]] = {}
    for row in log.list_known(connection, (entry.id for entry in entries)):
        known.setdefault(row.id, {})[row.hash] = (row.state, row.reason)
    results, fresh = [], []
    for entry in entries:
        same_id = known.setdefault(entry.id, {})
        if entry.hash in same_id:
            results.append(_repeat(entry.id, *same_id[entry.hash]))
            continue
        if same_id:
            reason = "another content is kept under this id; the first one counts"
            entry = log.Entry(**{**vars(entry), "state": "conflict", "reason": reason})
        same_id[entry.hash] = (entry.state, entry.reason)
        fresh.append(entry)
        outcome = "created" if entry.state == "counted" else entry.state
        results.append(EventResult(id=entry.id, outcome=outcome, reason=entry.reason))
    return results, fresh


def _repeat(event_id: str, state: str, reason: str | None) -> EventResult:
    # A lost answer must not hide a quarantine: the repeat says again what the first said.
    return EventResult(id=event_id, outcome="duplicate" if state == "counted" else state, reason=reason)


def load_facts(connection: Connection, checklist_hashes: Iterable[Any]) -> Facts:
    """What the yard knows now, with those of the named checklists that are here."""
    return Facts(
        people=frozenset(person["code"] for person in people.list_people(connection)),
        batches={batch["code"]: batch for batch in batches.list_batches(connection)},
        checklists=checklists.load_checklists(connection, checklist_hashes),
    )


def _keep_definitions(connection: Connection, definitions: list[Any], now: datetime) -> None:
    for compiled in definitions:
        try:
            checklist = Checklist.from_compiled(compiled)
        except QcappError:
            # The events that need it stay in the log as "unknown checklist".
            continue
        checklists.publish_checklist(connection, checklist, origin="phone", now=as_text(now))


def _note_device(connection: Connection, device_id: str, note: DeviceNote, now: datetime) -> None:
    devices.note_contact(
        connection,
        device_id,
        last_seen_at=as_text(now),
        created=note.created,
        acked=note.acked,
        app_build=note.app_build,
        clock_offset_ms=_clock_offset_ms(note, now),
    )


def _compare(connection: Connection, have: Position | None) -> str:
    """Whether the log the phone last saw is still this log's past."""
    if have is None:
        return "ok"
    return "ok" if log.find_chain(connection, have.seq) == have.chain else "diverged"


def _clock_offset_ms(note: DeviceNote, now: datetime) -> int | None:
    try:
        return round((as_moment(note.clock or "") - now).total_seconds() * 1000)
    except (ValueError, OverflowError):
        return None


def _is_too_large(arrived: Arrived) -> bool:
    return len(arrived.raw.encode()) > MOST_EVENT_BYTES


def _too_large(arrived: Arrived) -> EventResult:
    known_id = arrived.content.get("id")
    return EventResult(
        id=known_id if isinstance(known_id, str) else None,
        outcome="retry",
        reason=f"too large: an event may have {MOST_EVENT_BYTES} bytes; shorten the note",
    )
