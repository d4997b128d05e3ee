"""What is asked of the log's records."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from sqlalchemy import Connection, bindparam, func, select

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.store.chunks import CHUNK_SIZE, chunked
from qcapp.store.log.append import State
from qcapp.store.tables import LOG


class LogRecord(NamedTuple):
    """A whole row of the log (see the table); raw is the event's JSON text as it came."""

    seq: int
    id: str
    hash: str
    chain: str
    state: State
    reason: str | None
    kind: str
    device_id: str
    dev_seq: int
    stove_key: str | None
    batch: str | None
    received_at: str
    relayed_by: str | None
    clock_offset_ms: int | None
    raw: str
    signature: str | None


class KnownRecord(NamedTuple):
    id: str
    hash: str
    state: State
    reason: str | None
    seq: int


class StoredEvent(NamedTuple):
    seq: int
    state: State
    raw: str


class ServerRecord(NamedTuple):
    """A counted event that the server made itself."""

    seq: int
    hash: str
    kind: str
    batch: str | None
    received_at: str
    raw: str


class TrailRecord(NamedTuple):
    seq: int
    received_at: str
    raw: str


# Made once, as every push asks them: to build one takes as long as to run it.
_KNOWN = (
    select(LOG.c.id, LOG.c.hash, LOG.c.state, LOG.c.reason, LOG.c.seq)
    .where(LOG.c.id.in_(bindparam("ids", expanding=True)))
    .order_by(LOG.c.seq)
)
_STOVE_EVENTS = (
    select(LOG.c.seq, LOG.c.stove_key, LOG.c.raw)
    .where(LOG.c.stove_key.in_(bindparam("stove_keys", expanding=True)), LOG.c.state == "counted")
    .order_by(LOG.c.seq)
)


def find_record(connection: Connection, seq: int) -> LogRecord | None:
    """The record at a number, None when there is none."""
    row = connection.execute(select(LOG).where(LOG.c.seq == seq)).first()
    return LogRecord(*row) if row else None


def list_known(connection: Connection, ids: Iterable[str]) -> list[KnownRecord]:
    """What is already kept under any of the ids."""
    return [
        KnownRecord(*row)
        for wanted in chunked(dict.fromkeys(ids))
        for row in connection.execute(_KNOWN, {"ids": wanted})
    ]


def list_makers(connection: Connection, ids: Iterable[str]) -> dict[str, str]:
    """Who made the records that count under these ids."""
    return {
        row.id: json.loads(row.raw)["inspector"]
        for wanted in chunked(dict.fromkeys(ids))
        for row in connection.execute(
            select(LOG.c.id, LOG.c.raw).where(LOG.c.id.in_(wanted), LOG.c.state == "counted")
        )
    }


def list_stove_events(
    connection: Connection,
    stove_keys: Iterable[str],
    known: Mapping[int, dict[str, Any]] | None = None,
) -> dict[str, list[dict[str, Any]]]:
    """Counted events by stove key, each list in log order.

    known: contents that the caller has at hand, by number; these very objects are given.
    """
    at_hand = known or {}
    events: dict[str, list[dict[str, Any]]] = {key: [] for key in stove_keys}
    for wanted in chunked(events):
        for seq, key, raw in connection.execute(_STOVE_EVENTS, {"stove_keys": wanted}):
            events[key].append(at_hand[seq] if seq in at_hand else json.loads(raw))
    return events


def count_stove_keys(connection: Connection) -> int:
    query = select(func.count(func.distinct(LOG.c.stove_key))).where(LOG.c.state == "counted")
    return connection.execute(query).scalar_one()


def walk_stove_keys(connection: Connection) -> Iterator[list[str]]:
    """All keys of counted events, so many at a time: a log may have more than fit into memory."""
    query = select(LOG.c.stove_key).where(
        LOG.c.stove_key > bindparam("last"), LOG.c.state == "counted"
    )
    piece, last = query.distinct().order_by(LOG.c.stove_key).limit(CHUNK_SIZE), ""
    while keys := list(connection.execute(piece, {"last": last}).scalars()):
        yield keys
        last = keys[-1]


def has_stove_records_after(connection: Connection, batch: str, seq: int) -> bool:
    """Whether any counted inspection, correction or void of the batch came after a number."""
    query = (
        select(LOG.c.seq)
        .where(
            LOG.c.seq > seq,
            LOG.c.batch == batch,
            LOG.c.stove_key.is_not(None),
            LOG.c.state == "counted",
        )
        .limit(1)
    )
    return connection.execute(query).first() is not None


def list_after(
    connection: Connection,
    seq: int,
    limit: int | None,
    *,
    but_device: str | None = None,
    but_kinds: Sequence[str] = (),
) -> list[StoredEvent]:
    """Events after a number, of all devices but one and all kinds but these, oldest first.

    limit None: all.
    """
    query = select(LOG.c.seq, LOG.c.state, LOG.c.raw).where(LOG.c.seq > seq)
    if but_device is not None:
        query = query.where(LOG.c.device_id != but_device)
    if but_kinds:
        query = query.where(LOG.c.kind.not_in(but_kinds))
    rows = connection.execute(query.order_by(LOG.c.seq).limit(limit))
    return [StoredEvent(*row) for row in rows]


def list_by_kind(
    connection: Connection, kind: str, *, newest: int | None = None
) -> list[dict[str, Any]]:
    """Counted events of a kind that belongs to no stove, in log order; all, or the newest ones."""
    query = (
        select(LOG.c.raw)
        .where(LOG.c.kind == kind, LOG.c.state == "counted")
        .order_by(LOG.c.seq.desc())
        .limit(newest)
    )
    return [json.loads(raw) for raw in connection.execute(query).scalars()][::-1]


def list_server_events(
    connection: Connection, kinds: Sequence[str], batch: str | None = None
) -> list[ServerRecord]:
    """In log order. Found by the index over devices: they are few among a yard's records."""
    columns = (LOG.c.seq, LOG.c.hash, LOG.c.kind, LOG.c.batch, LOG.c.received_at, LOG.c.raw)
    query = select(*columns).where(
        LOG.c.device_id == SERVER_DEVICE, LOG.c.kind.in_(kinds), LOG.c.state == "counted"
    )
    if batch is not None:
        query = query.where(LOG.c.batch == batch)
    return [ServerRecord(*row) for row in connection.execute(query.order_by(LOG.c.seq))]


def list_plans(connection: Connection, batches: Sequence[str]) -> list[dict[str, Any]]:
    """Events that agreed a plan of these batches, in log order."""
    query = select(LOG.c.raw).where(
        LOG.c.device_id == SERVER_DEVICE,
        LOG.c.kind == "plan",
        LOG.c.state == "counted",
        LOG.c.batch.in_(batches),
    )
    return [json.loads(raw) for raw in connection.execute(query.order_by(LOG.c.seq)).scalars()]


def list_server_hashes(connection: Connection, kind: str) -> list[str]:
    """Hashes of the server's events of a kind, in log order; reads no event's text."""
    query = select(LOG.c.hash).where(
        LOG.c.device_id == SERVER_DEVICE, LOG.c.kind == kind, LOG.c.state == "counted"
    )
    return list(connection.execute(query.order_by(LOG.c.seq)).scalars())


def list_trail(connection: Connection, *, before: int, limit: int) -> list[TrailRecord]:
    """The trail below a number, newest first."""
    query = select(LOG.c.seq, LOG.c.received_at, LOG.c.raw).where(
        LOG.c.kind == "trail", LOG.c.state == "counted", LOG.c.seq < before
    )
    rows = connection.execute(query.order_by(LOG.c.seq.desc()).limit(limit))
    return [TrailRecord(*row) for row in rows]
