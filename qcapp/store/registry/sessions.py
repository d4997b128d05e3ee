"""Browsers that signed in. Only the SHA-256 of a session's cookie is known here."""

from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, insert, select, update

from qcapp.store.tables import ACCOUNT, SESSION


class Session(NamedTuple):
    """A session that is good now, with its account's role."""

    no: int
    account: str
    last_used_at: str
    role: str


class SessionEntry(NamedTuple):
    no: int
    account: str
    made_at: str
    last_used_at: str


def add_session(
    connection: Connection, *, token_hash: str, account: str, now: str, expires_at: str
) -> None:
    row = {
        "token_hash": token_hash,
        "account": account,
        "made_at": now,
        "last_used_at": now,
        "expires_at": expires_at,
    }
    connection.execute(insert(SESSION), [row])


def find_session(
    connection: Connection, token_hash: str, *, now: str, used_after: str
) -> Session | None:
    """None when it has ended, was not used since, or its account is disabled."""
    query = (
        select(SESSION.c.no, SESSION.c.account, SESSION.c.last_used_at, ACCOUNT.c.role)
        .join(ACCOUNT, ACCOUNT.c.code == SESSION.c.account)
        .where(
            SESSION.c.token_hash == token_hash,
            _is_good(now, used_after),
            ACCOUNT.c.disabled_at.is_(None),
        )
    )
    row = connection.execute(query).first()
    return Session(*row) if row else None


def touch_session(connection: Connection, no: int, now: str) -> None:
    connection.execute(update(SESSION).where(SESSION.c.no == no).values(last_used_at=now))


def list_sessions(connection: Connection, *, now: str, used_after: str) -> list[SessionEntry]:
    """Those that are good now, the last used first."""
    columns = (SESSION.c[name] for name in SessionEntry._fields)
    query = select(*columns).where(_is_good(now, used_after))
    rows = connection.execute(query.order_by(SESSION.c.last_used_at.desc()))
    return [SessionEntry(*row) for row in rows]


def _is_good(now: str, used_after: str) -> ColumnElement[bool]:
    return (
        SESSION.c.revoked_at.is_(None)
        & (SESSION.c.expires_at > now)
        & (SESSION.c.last_used_at > used_after)
    )


def revoke_session(connection: Connection, no: int, now: str) -> bool:
    """False when there is no such session, or it has ended already."""
    query = (
        update(SESSION)
        .where(SESSION.c.no == no, SESSION.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    return connection.execute(query).rowcount == 1


def revoke_sessions(connection: Connection, account: str | None, now: str) -> None:
    """account: None for those of every account."""
    query = update(SESSION).where(SESSION.c.revoked_at.is_(None))
    if account is not None:
        query = query.where(SESSION.c.account == account)
    connection.execute(query.values(revoked_at=now))
