"""What is asked of the log's records."""

import json
from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, select

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.store.tables import Log

LOG = Log.__table__
# SQLite's limit on bound values of one statement was 999 in old builds.
CHUNK = 500


def list_known(connection: Connection, ids: Iterable[str]) -> list:
    """Rows (id, hash, state, reason, seq) already kept under any of the ids."""
    wanted = list(dict.fromkeys(ids))
    rows = []
    for start in range(0, len(wanted), CHUNK):
        part = wanted[start : start + CHUNK]
        query = (
            select(LOG.c.id, LOG.c.hash, LOG.c.state, LOG.c.reason, LOG.c.seq)
            .where(LOG.c.id.in_(part))
            .order_by(LOG.c.seq)
        )
        rows.extend(connection.execute(query))
    return rows


def list_stove_events(connection: Connection, stove_keys: Iterable[str]) -> dict[str, list[dict]]:
    """Counted events by stove key, each list in log order."""
    wanted = list(dict.fromkeys(stove_keys))
    events: dict[str, list[dict]] = {key: [] for key in wanted}
    for start in range(0, len(wanted), CHUNK):
        part = wanted[start : start + CHUNK]
        query = (
            select(LOG.c.stove_key, LOG.c.raw)
            .where(LOG.c.stove_key.in_(part), LOG.c.state == "counted")
            .order_by(LOG.c.seq)
        )
        for row in connection.execute(query):
            events[row.stove_key].append(json.loads(row.raw))
    return events


def list_stove_keys(connection: Connection) -> list[str]:
    query = (
        select(LOG.c.stove_key)
        .where(LOG.c.stove_key.is_not(None), LOG.c.state == "counted")
        .distinct()
    )
    return sorted(connection.execute(query).scalars())


def list_after(
    connection: Connection,
    seq: int,
    limit: int | None,
    *,
    but_device: str | None = None,
    but_kinds: Sequence[str] = (),
) -> list:
    """Rows (seq, state, raw) after a number, of all devices but one and all kinds but these, oldest first; limit None: all."""
    query = select(LOG.c.seq, LOG.c.state, LOG.c.raw).where(LOG.c.seq > seq)
    if but_device is not None:
        query = query.where(LOG.c.device_id != but_device)
    if but_kinds:
        query = query.where(LOG.c.kind.not_in(but_kinds))
    return list(connection.execute(query.order_by(LOG.c.seq).limit(limit)))


def list_by_kind(connection: Connection, kind: str, *, newest: int | None = None) -> list[dict]:
    """Counted events of a kind that belongs to no stove, in log order; all of them, or the newest ones."""
    query = (
        select(LOG.c.raw)
        .where(LOG.c.kind == kind, LOG.c.state == "counted")
        .order_by(LOG.c.seq.desc())
        .limit(newest)
    )
    return [json.loads(raw) for raw in connection.execute(query).scalars()][::-1]


def list_server_events(
    connection: Connection, kinds: Sequence[str], batch: str | None = None
) -> list:
    """Rows (seq, hash, kind, batch, received_at, raw) of counted events the server made itself, in log order.

    Found by the index over devices: the server's own are few among a yard's records.
    """
    columns = (LOG.c.seq, LOG.c.hash, LOG.c.kind, LOG.c.batch, LOG.c.received_at, LOG.c.raw)
    query = select(*columns).where(
        LOG.c.device_id == SERVER_DEVICE, LOG.c.kind.in_(kinds), LOG.c.state == "counted"
    )
    if batch is not None:
        query = query.where(LOG.c.batch == batch)
    return list(connection.execute(query.order_by(LOG.c.seq)))


def list_server_hashes(connection: Connection, kind: str) -> list[str]:
    """Hashes of counted events of a kind the server made itself, in log order; reads no event's text."""
    query = select(LOG.c.hash).where(
        LOG.c.device_id == SERVER_DEVICE, LOG.c.kind == kind, LOG.c.state == "counted"
    )
    return list(connection.execute(query.order_by(LOG.c.seq)).scalars())


def find_record(connection: Connection, seq: int):
    """The whole row at a number, None when there is none."""
    return connection.execute(select(LOG).where(LOG.c.seq == seq)).first()


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


def list_trail(connection: Connection, *, before: int, limit: int) -> list:
    """Rows (seq, received_at, raw) of the trail below a number, newest first."""
    query = select(LOG.c.seq, LOG.c.received_at, LOG.c.raw).where(
        LOG.c.kind == "trail", LOG.c.state == "counted", LOG.c.seq < before
    )
    return list(connection.execute(query.order_by(LOG.c.seq.desc()).limit(limit)))
