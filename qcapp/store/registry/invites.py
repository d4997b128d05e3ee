"""One-time links that make an account or give it a new password."""

from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, insert, select, update

from qcapp.store.tables import INVITE


class Invite(NamedTuple):
    """code: None for an account that is still to be made. made_by: an account, or the terminal."""

    code: str | None
    name: str
    role: str
    made_by: str
    expires_at: str


COLUMNS = [INVITE.c[name] for name in Invite._fields]


def add_invite(
    connection: Connection,
    *,
    token_hash: str,
    code: str | None,
    name: str,
    role: str,
    made_by: str,
    expires_at: str,
) -> None:
    row = {
        "token_hash": token_hash,
        "code": code,
        "name": name,
        "role": role,
        "made_by": made_by,
        "expires_at": expires_at,
    }
    connection.execute(insert(INVITE), [row])


def find_invite(connection: Connection, token_hash: str, now: str) -> Invite | None:
    """None when the link is not known, used or too old."""
    query = select(*COLUMNS).where(INVITE.c.token_hash == token_hash, _is_good(now))
    row = connection.execute(query).first()
    return Invite(*row) if row else None


def use_invite(connection: Connection, token_hash: str, now: str) -> bool:
    """Marks the link as used; False when somebody was faster or it is too old."""
    query = update(INVITE).where(INVITE.c.token_hash == token_hash, _is_good(now))
    return connection.execute(query.values(used_at=now)).rowcount == 1


def expire_invites(
    connection: Connection, now: str, *, made_by: str | None = None, code: str | None = None
) -> None:
    """Ends the unused links of a maker, or for a code, or without either all of them."""
    query = update(INVITE).where(INVITE.c.used_at.is_(None))
    if made_by is not None:
        query = query.where(INVITE.c.made_by == made_by)
    if code is not None:
        query = query.where(INVITE.c.code == code)
    connection.execute(query.values(used_at=now))


def list_invites(connection: Connection, now: str) -> list[Invite]:
    """Those not used yet, in the order in which they end."""
    query = select(*COLUMNS).where(_is_good(now)).order_by(INVITE.c.expires_at)
    return [Invite(*row) for row in connection.execute(query)]


def _is_good(now: str) -> ColumnElement[bool]:
    return INVITE.c.used_at.is_(None) & (INVITE.c.expires_at > now)
