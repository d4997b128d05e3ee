"""Accounts, the browsers that signed in, and one-time links."""

from sqlalchemy import Connection, func, insert, select, update

from qcapp.store.tables import Account, Invite, Session

ACCOUNT, SESSION, INVITE = Account.__table__, Session.__table__, Invite.__table__


def save_account(
    connection: Connection, *, code: str, name: str, role: str, password_hash: str, now: str
) -> None:
    """A new account; one whose code is known keeps its role and name, gets the password and is enabled again."""
    if find_account(connection, code):
        values = {"password_hash": password_hash, "disabled_at": None}
        connection.execute(update(ACCOUNT).where(ACCOUNT.c.code == code).values(**values))
        return
    row = {"code": code, "name": name, "role": role, "password_hash": password_hash, "made_at": now}
    connection.execute(insert(ACCOUNT), [row])


def find_account(connection: Connection, code: str):
    """Row of the table account, or None."""
    return connection.execute(select(ACCOUNT).where(ACCOUNT.c.code == code)).first()


def list_accounts(connection: Connection) -> list:
    """Rows (code, name, role, made_at, disabled_at), the enabled ones first."""
    columns = (
        ACCOUNT.c.code,
        ACCOUNT.c.name,
        ACCOUNT.c.role,
        ACCOUNT.c.made_at,
        ACCOUNT.c.disabled_at,
    )
    return list(
        connection.execute(
            select(*columns).order_by(ACCOUNT.c.disabled_at.is_not(None), ACCOUNT.c.code)
        )
    )


def count_enabled(connection: Connection, role: str) -> int:
    query = select(func.count()).where(ACCOUNT.c.role == role, ACCOUNT.c.disabled_at.is_(None))
    return connection.execute(query).scalar_one()


def disable_account(connection: Connection, code: str, now: str) -> None:
    connection.execute(update(ACCOUNT).where(ACCOUNT.c.code == code).values(disabled_at=now))


def set_password(connection: Connection, code: str, password_hash: str) -> None:
    connection.execute(
        update(ACCOUNT).where(ACCOUNT.c.code == code).values(password_hash=password_hash)
    )


def erase_account_name(connection: Connection, code: str) -> int:
    """The name becomes the code; gives how many accounts that were (0 or 1)."""
    return connection.execute(
        update(ACCOUNT).where(ACCOUNT.c.code == code).values(name=code)
    ).rowcount


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


def find_session(connection: Connection, token_hash: str, *, now: str, used_after: str):
    """(no, account, role, last_used_at) of a session that is good now, or None."""
    query = (
        select(SESSION.c.no, SESSION.c.account, SESSION.c.last_used_at, ACCOUNT.c.role)
        .join(ACCOUNT, ACCOUNT.c.code == SESSION.c.account)
        .where(
            SESSION.c.token_hash == token_hash,
            SESSION.c.revoked_at.is_(None),
            SESSION.c.expires_at > now,
            SESSION.c.last_used_at > used_after,
            ACCOUNT.c.disabled_at.is_(None),
        )
    )
    return connection.execute(query).first()


def touch_session(connection: Connection, no: int, now: str) -> None:
    connection.execute(update(SESSION).where(SESSION.c.no == no).values(last_used_at=now))


def list_sessions(connection: Connection, *, now: str, used_after: str) -> list:
    """Rows (no, account, made_at, last_used_at) of the sessions that are good now, the last used first."""
    columns = (SESSION.c.no, SESSION.c.account, SESSION.c.made_at, SESSION.c.last_used_at)
    query = select(*columns).where(
        SESSION.c.revoked_at.is_(None),
        SESSION.c.expires_at > now,
        SESSION.c.last_used_at > used_after,
    )
    return list(connection.execute(query.order_by(SESSION.c.last_used_at.desc())))


def revoke_session(connection: Connection, no: int, now: str) -> int:
    """Gives how many sessions that ended (0 or 1)."""
    query = (
        update(SESSION)
        .where(SESSION.c.no == no, SESSION.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    return connection.execute(query).rowcount


def revoke_sessions(connection: Connection, account: str, now: str) -> None:
    query = (
        update(SESSION)
        .where(SESSION.c.account == account, SESSION.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    connection.execute(query)


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


def find_invite(connection: Connection, token_hash: str, now: str):
    """Row of a link that is still good, or None."""
    query = select(INVITE).where(
        INVITE.c.token_hash == token_hash, INVITE.c.used_at.is_(None), INVITE.c.expires_at > now
    )
    return connection.execute(query).first()


def use_invite(connection: Connection, token_hash: str, now: str) -> bool:
    """Marks the link as used; False when somebody was faster or it is too old."""
    query = update(INVITE).where(
        INVITE.c.token_hash == token_hash, INVITE.c.used_at.is_(None), INVITE.c.expires_at > now
    )
    return connection.execute(query.values(used_at=now)).rowcount == 1


def expire_invites(
    connection: Connection, now: str, *, made_by: str | None = None, code: str | None = None
) -> None:
    """Ends the unused links of a maker, or for a code: a newer link replaces them."""
    query = update(INVITE).where(INVITE.c.used_at.is_(None))
    if made_by is not None:
        query = query.where(INVITE.c.made_by == made_by)
    if code is not None:
        query = query.where(INVITE.c.code == code)
    connection.execute(query.values(used_at=now))


def list_invites(connection: Connection, now: str) -> list:
    """Rows (code, name, role, made_by, expires_at) of links not used yet."""
    columns = (INVITE.c.code, INVITE.c.name, INVITE.c.role, INVITE.c.made_by, INVITE.c.expires_at)
    query = (
        select(*columns)
        .where(INVITE.c.used_at.is_(None), INVITE.c.expires_at > now)
        .order_by(INVITE.c.expires_at)
    )
    return list(connection.execute(query))
