"""The append-only log with its running hash: the truth everything else is made from."""

import hashlib
import json
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, case, delete, func, insert, select, text

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.store.tables import Log, Meta

LOG = Log.__table__
# Written out, as in its index: a value handed over would not be seen to fit it.
SET_ASIDE = text("log.state != 'counted'")
META = Meta.__table__
# SQLite's limit on bound values of one statement was 999 in old builds.
CHUNK = 500


@dataclass(frozen=True)
class Head:
    """The end of the log: its last number and running hash (hex)."""

    seq: int
    chain: str


@dataclass(frozen=True)
class Entry:
    """An event on its way into the log; raw is its JSON text as kept for ever."""

    id: str
    hash: str
    state: str
    reason: str | None
    kind: str
    device_id: str
    dev_seq: int
    stove_key: str | None
    batch: str | None
    raw: str


def get_server_id(connection: Connection) -> str:
    """chain_0: a random identity made when the database was made."""
    return connection.execute(select(META.c.value).where(META.c.key == "server_id")).scalar_one()


def ensure_server_id(connection: Connection) -> None:
    found = connection.execute(select(META.c.value).where(META.c.key == "server_id")).first()
    if found is None:
        connection.execute(insert(META), [{"key": "server_id", "value": secrets.token_hex(32)}])


def find_fact(connection: Connection, key: str) -> str | None:
    """A fact about this server (table meta), None when it was never noted."""
    return connection.execute(select(META.c.value).where(META.c.key == key)).scalar()


def set_fact(connection: Connection, key: str, value: str) -> None:
    connection.execute(delete(META).where(META.c.key == key))
    connection.execute(insert(META), [{"key": key, "value": value}])


def get_head(connection: Connection) -> Head:
    row = connection.execute(
        select(LOG.c.seq, LOG.c.chain).order_by(LOG.c.seq.desc()).limit(1)
    ).first()
    return Head(row.seq, row.chain) if row else Head(0, get_server_id(connection))


def find_chain(connection: Connection, seq: int) -> str | None:
    """The running hash at a number, None when the log never got that far."""
    if seq == 0:
        return get_server_id(connection)
    return connection.execute(select(LOG.c.chain).where(LOG.c.seq == seq)).scalar()


def link(chain: str, event_id: str, event_hash: str) -> str:
    """The next running hash, hex."""
    return hashlib.sha256(
        (chain + event_id + event_hash).encode("utf-8", "surrogatepass")
    ).hexdigest()


def append(
    connection: Connection,
    entries: Sequence[Entry],
    *,
    received_at: str,
    relayed_by: str | None,
    clock_offset_ms: int | None,
) -> Head:
    """Adds entries in order inside the caller's writer transaction; gives the new head."""
    head = get_head(connection)
    rows = []
    for entry in entries:
        head = Head(head.seq + 1, link(head.chain, entry.id, entry.hash))
        rows.append(
            {
                **vars(entry),
                "seq": head.seq,
                "chain": head.chain,
                "received_at": received_at,
                "relayed_by": relayed_by,
                "clock_offset_ms": clock_offset_ms,
            }
        )
    if rows:
        connection.execute(insert(LOG), rows)
    return head


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


def list_own(connection: Connection, kinds: Sequence[str], batch: str | None = None) -> list:
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


def list_own_hashes(connection: Connection, kind: str) -> list[str]:
    """Hashes of counted events of a kind the server made itself, in log order; reads no event's text."""
    query = select(LOG.c.hash).where(
        LOG.c.device_id == SERVER_DEVICE, LOG.c.kind == kind, LOG.c.state == "counted"
    )
    return list(connection.execute(query.order_by(LOG.c.seq)).scalars())


def find_record(connection: Connection, seq: int):
    """The whole row at a number, None when there is none."""
    return connection.execute(select(LOG).where(LOG.c.seq == seq)).first()


def count_set_aside(connection: Connection, batch: str) -> int:
    """Records of a batch about which nobody has decided yet. The written-out state lets the index serve."""
    waiting = (
        connection.execute(select(LOG.c.hash).where(LOG.c.batch == batch, SET_ASIDE))
        .scalars()
        .all()
    )
    return len(set(waiting) - list_decided_hashes(connection)) if waiting else 0


def list_decided_hashes(connection: Connection) -> set[str]:
    """Hashes of the contents that admissions are about."""
    return {
        json.loads(row.raw)["body"]["original_hash"] for row in list_own(connection, ("admission",))
    }


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


def count_device_events(connection: Connection, device_id: str) -> int:
    query = select(func.count(func.distinct(LOG.c.id))).where(LOG.c.device_id == device_id)
    return connection.execute(query).scalar_one()


def list_device_counts(connection: Connection) -> list:
    """Rows (device_id, records, numbers, last): records kept, different numbers among them, the last one."""
    number = case((LOG.c.dev_seq >= 1, LOG.c.dev_seq))
    columns = (
        func.count(func.distinct(LOG.c.id)).label("records"),
        func.count(func.distinct(number)).label("numbers"),
        func.coalesce(func.max(number), 0).label("last"),
    )
    return list(connection.execute(select(LOG.c.device_id, *columns).group_by(LOG.c.device_id)))


def list_device_numbers(connection: Connection, device_id: str) -> list[int]:
    """The different numbers of a phone's records that are kept here."""
    query = (
        select(LOG.c.dev_seq).where(LOG.c.device_id == device_id).distinct().order_by(LOG.c.dev_seq)
    )
    return list(connection.execute(query).scalars())


def list_set_aside(connection: Connection) -> list:
    """Quarantined and conflicting rows, newest first: what a person must look at."""
    # Ordered here: asked for in order, the database would walk the whole log instead of the few set aside.
    return sorted(connection.execute(select(LOG).where(SET_ASIDE)), key=lambda row: -row.seq)


def count_waiting(connection: Connection) -> int:
    """Of the same rows, those about which nobody has decided; reads none of them."""
    hashes = connection.execute(select(LOG.c.hash).where(SET_ASIDE)).scalars().all()
    decided = list_decided_hashes(connection)
    return sum(content_hash not in decided for content_hash in hashes)


def find_counted(connection: Connection, event_id: str):
    """The row that counts under an id before any decision, None when there is none."""
    return connection.execute(
        select(LOG).where(LOG.c.id == event_id, LOG.c.state == "counted")
    ).first()


def find_broken_link(connection: Connection) -> int | None:
    """The first number whose running hash does not follow from the row before, or None."""
    chain, expected = get_server_id(connection), 1
    query = select(LOG.c.seq, LOG.c.id, LOG.c.hash, LOG.c.chain).order_by(LOG.c.seq)
    # In pieces: a log may be larger than the memory.
    with connection.execute(query.execution_options(yield_per=CHUNK)) as rows:
        for row in rows:
            chain = link(chain, row.id, row.hash)
            if row.seq != expected or row.chain != chain:
                return row.seq
            expected += 1
    return None
