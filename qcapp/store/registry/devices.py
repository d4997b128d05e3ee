"""Phones and the one-time codes they join with."""

from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, bindparam, func, insert, or_, select, update

from qcapp.store.tables import DEVICE, JOIN_CODE

# Of one phone. One that lost its memory so often is broken; each id is a line of the lead's list.
MAX_IDS = 20


class Device(NamedTuple):
    """A phone as the yard lead sees it; the columns are told at the table."""

    id: str
    name: str
    joined_at: str
    last_seen_at: str | None
    created: int
    acked: int
    unsent: int
    app_build: str | None
    clock_offset_ms: int | None
    revoked_at: str | None
    buyer_batch: str | None
    restart_of: str | None
    key_changed_at: str | None
    copied_number: int | None
    copied_at: str | None


class TokenHolder(NamedTuple):
    """is_next: the phone came with the token that was given in exchange; buyer_batch: what a phone
    of the buyer's inspector checks again, None for the yard's own.
    """

    id: str
    revoked_at: str | None
    is_next: bool
    buyer_batch: str | None


class UsedCode(NamedTuple):
    name: str
    buyer_batch: str | None


def add_join_code(
    connection: Connection,
    *,
    code_hash: str,
    name: str,
    expires_at: str,
    buyer_batch: str | None = None,
) -> None:
    row = {"code_hash": code_hash, "name": name, "expires_at": expires_at}
    connection.execute(insert(JOIN_CODE), [{**row, "buyer_batch": buyer_batch}])


def use_join_code(connection: Connection, code_hash: str, now: str) -> UsedCode | None:
    """Marks the code as used and tells whose it is; None when unknown, used or too old."""
    query = (
        update(JOIN_CODE)
        .where(
            JOIN_CODE.c.code_hash == code_hash,
            JOIN_CODE.c.used_at.is_(None),
            JOIN_CODE.c.expires_at > now,
        )
        .values(used_at=now)
        .returning(JOIN_CODE.c.name, JOIN_CODE.c.buyer_batch)
    )
    row = connection.execute(query).first()
    return UsedCode(*row) if row else None


def save_device(
    connection: Connection,
    *,
    device_id: str,
    name: str,
    token_hash: str,
    now: str,
    restart_hash: str | None = None,
    buyer_batch: str | None = None,
) -> None:
    """A new phone, or a known one that joins again: it keeps its id and gets a new token.

    restart_hash: the phone that is known by it began anew here under another id.
    """
    fresh = {
        "name": name,
        "token_hash": token_hash,
        "next_token_hash": None,
        "revoked_at": None,
        "buyer_batch": buyer_batch,
        "restart_hash": restart_hash,
        "restart_of": _find_first_id(connection, device_id, restart_hash),
    }
    changed = connection.execute(update(DEVICE).where(DEVICE.c.id == device_id).values(**fresh))
    if changed.rowcount == 0:
        connection.execute(insert(DEVICE), [{"id": device_id, "joined_at": now, **fresh}])
    if fresh["restart_of"]:
        _let_back(connection, device_id, fresh["restart_of"])


def _let_back(connection: Connection, device_id: str, first_id: str) -> None:
    """What the phone made under ids that were removed may come; their tokens stay dead."""
    query = update(DEVICE).where(
        _is_of_phone(first_id), DEVICE.c.id != device_id, DEVICE.c.revoked_at.is_not(None)
    )
    connection.execute(query.values(revoked_at=None, token_hash="", next_token_hash=None))


def _find_first_id(connection: Connection, device_id: str, restart_hash: str | None) -> str | None:
    if restart_hash is None:
        return None
    query = (
        select(DEVICE.c.id, DEVICE.c.restart_of)
        .where(DEVICE.c.restart_hash == restart_hash, DEVICE.c.id != device_id)
        .order_by(DEVICE.c.joined_at, DEVICE.c.id)
    )
    before = connection.execute(query).first()
    first = (before.restart_of or before.id) if before else None
    return None if first == device_id else first


def add_restarted_device(connection: Connection, device_id: str, *, of: str, now: str) -> None:
    """A phone that lost its memory, but not its token, goes on under an id of its own: MAX_IDS
    times, then it has to join again.
    """
    if find_device(connection, device_id) is not None:
        return
    before = find_device(connection, of)
    same = _is_of_phone((before.restart_of or before.id) if before else of)
    ids = select(func.count()).select_from(DEVICE).where(same)
    if connection.execute(ids).scalar_one() >= MAX_IDS:
        return
    row = {
        "id": device_id,
        "name": f"{before.name if before else of}, started anew",
        "token_hash": "",
        "joined_at": now,
        "buyer_batch": before.buyer_batch if before else None,
        "restart_of": (before.restart_of or before.id) if before else of,
    }
    connection.execute(insert(DEVICE), [row])


def find_device(connection: Connection, device_id: str) -> Device | None:
    columns = (DEVICE.c[name] for name in Device._fields)
    row = connection.execute(select(*columns).where(DEVICE.c.id == device_id)).first()
    return Device(*row) if row else None


def is_restart(connection: Connection, device_id: str, first_id: str, restart_hash: str) -> bool:
    """Whether another id of the phone that had this one first is known by the same secret."""
    query = select(DEVICE.c.id).where(
        _is_of_phone(first_id),
        DEVICE.c.id != device_id,
        DEVICE.c.restart_hash == restart_hash,
    )
    return connection.execute(query).first() is not None


def note_restart_hash(connection: Connection, device_id: str, restart_hash: str) -> None:
    """Of a phone that joined before it had one; the first one stays."""
    query = update(DEVICE).where(DEVICE.c.id == device_id, DEVICE.c.restart_hash.is_(None))
    connection.execute(query.values(restart_hash=restart_hash))


def find_token_holder(connection: Connection, token_hash: str) -> TokenHolder | None:
    """The phone whose token, or whose next one, has this hash."""
    is_next = (DEVICE.c.next_token_hash == token_hash).label("is_next")
    query = select(DEVICE.c.id, DEVICE.c.revoked_at, is_next, DEVICE.c.buyer_batch).where(
        or_(DEVICE.c.token_hash == token_hash, DEVICE.c.next_token_hash == token_hash)
    )
    row = connection.execute(query).first()
    return TokenHolder(row.id, row.revoked_at, bool(row.is_next), row.buyer_batch) if row else None


def find_name(connection: Connection, device_id: str) -> str | None:
    """What the yard calls the phone."""
    return connection.execute(select(DEVICE.c.name).where(DEVICE.c.id == device_id)).scalar()


def offer_token(connection: Connection, device_id: str, token_hash: str) -> None:
    """Beside the present token, until the phone shows that it has this one."""
    connection.execute(
        update(DEVICE).where(DEVICE.c.id == device_id).values(next_token_hash=token_hash)
    )


def settle_token(connection: Connection, device_id: str, token_hash: str) -> None:
    """The phone has used its next token: the one before is no good any more."""
    query = update(DEVICE).where(DEVICE.c.id == device_id, DEVICE.c.next_token_hash == token_hash)
    connection.execute(query.values(token_hash=token_hash, next_token_hash=None))


def revoke(connection: Connection, device_id: str, now: str) -> bool:
    """Its tokens are no good from now on; gives whether there is such a phone.

    One that began anew without joining goes on with the token of an id that it had before: all ids
    of that phone go with it.
    """
    columns = (DEVICE.c.restart_of, DEVICE.c.token_hash)
    found = connection.execute(select(*columns).where(DEVICE.c.id == device_id)).first()
    if found is None:
        return False
    gone = DEVICE.c.id == device_id
    if found.token_hash == "" and found.restart_of:
        gone = or_(gone, _is_of_phone(found.restart_of))
    query = update(DEVICE).where(gone, DEVICE.c.revoked_at.is_(None))
    connection.execute(query.values(revoked_at=now))
    return True


def _is_of_phone(first_id: str) -> ColumnElement[bool]:
    return or_(DEVICE.c.id == first_id, DEVICE.c.restart_of == first_id)


# Made once: every push asks it. What is set are the columns that come with it.
_CONTACT = update(DEVICE).where(DEVICE.c.id == bindparam("of_device"))


def note_contact(connection: Connection, device_id: str, **values: Any) -> None:
    """Keeps what the phone said of itself, by column: last_seen_at, created, acked, unsent ..."""
    connection.execute(_CONTACT, {"of_device": device_id, **values})


def is_rechecked(connection: Connection, batch: str) -> bool:
    """Whether a phone of the buyer's inspector has joined for this batch."""
    query = select(DEVICE.c.id).where(DEVICE.c.buyer_batch == batch).limit(1)
    return connection.execute(query).first() is not None


def list_devices(connection: Connection) -> list[Device]:
    """In the order they joined."""
    columns = (DEVICE.c[name] for name in Device._fields)
    rows = connection.execute(select(*columns).order_by(DEVICE.c.joined_at, DEVICE.c.id))
    return [Device(*row) for row in rows]


def list_device_names(connection: Connection) -> dict[str, str]:
    """The name of each by its id."""
    return {row.id: row.name for row in list_devices(connection)}
