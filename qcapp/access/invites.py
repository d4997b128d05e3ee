"""One-time links: how an account comes to be, and how a lost password is replaced.

Nobody ever types a password for somebody else. A link is 256 random bits, good once.
"""

import re
from datetime import datetime, timedelta

from sqlalchemy import Connection

from qcapp.access.password import check_new_password, hash_password
from qcapp.access.secret import hash_token, make_token
from qcapp.access.sessions import SignedIn, as_code, open_session
from qcapp.access.trusted_browser import trust
from qcapp.errors import BadInput, Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.store.registry.invites import Invite, add_invite, expire_invites, find_invite, use_invite
from qcapp.store.registry.sessions import revoke_sessions
from qcapp.store.registry.trusted_browsers import distrust_browsers
from qcapp.store.timestamps import format_timestamp

FIRST_LIFE = timedelta(minutes=60)
LIFE = timedelta(days=3)
TERMINAL = "terminal"
CODE = re.compile(r"[A-Z0-9][A-Z0-9_-]{1,19}")
MAX_NAME = 80


def make_first_link(store: Store, *, role: str, now: datetime) -> str | None:
    """A link for the first account of the role, None when there is one.

    Earlier links of the terminal end.
    """
    with store.writing() as connection:
        if accounts.count_enabled(connection, role):
            return None
        return make_terminal_link(connection, code=None, role=role, now=now)


def make_terminal_link(
    connection: Connection, *, code: str | None, role: str, now: datetime
) -> str:
    """A link for whoever holds this machine; replaces the terminal's earlier ones and those for
    the same account.
    """
    expire_invites(connection, format_timestamp(now), made_by=TERMINAL)
    if code is not None:
        expire_invites(connection, format_timestamp(now), code=code)
    return _add(
        connection, code=code, name="", role=role, made_by=TERMINAL, expires_at=now + FIRST_LIFE
    )


def make_link(
    connection: Connection, *, code: str, name: str, role: str, made_by: str, now: datetime
) -> str:
    """A link for a new account of this code. Raises BadInput, Clash."""
    code, name = check_code(code), check_name(name)
    if accounts.find_account(connection, code):
        raise Clash(
            phrase("there is already an account with this code"),
            code,
            phrase("choose another code, or make a new link for that account"),
        )
    expire_invites(connection, format_timestamp(now), code=code)
    return _add(connection, code=code, name=name, role=role, made_by=made_by, expires_at=now + LIFE)


def make_new_password_link(
    connection: Connection, *, code: str, made_by: str, now: datetime
) -> str:
    """A link with which the holder of the account sets a new password. Raises NotFound."""
    account = accounts.get_account(connection, code)
    expire_invites(connection, format_timestamp(now), code=code)
    return _add(
        connection,
        code=code,
        name=account.name,
        role=account.role,
        made_by=made_by,
        expires_at=now + LIFE,
    )


def _add(
    connection: Connection,
    *,
    code: str | None,
    name: str,
    role: str,
    made_by: str,
    expires_at: datetime,
) -> str:
    token = make_token()
    add_invite(
        connection,
        token_hash=hash_token(token),
        code=code,
        name=name,
        role=role,
        made_by=made_by,
        expires_at=format_timestamp(expires_at),
    )
    return token


def get_invite(store: Store, token: str, now: datetime) -> Invite:
    """Of a link still good. Raises NotFound."""
    with store.reading() as connection:
        found = find_invite(connection, hash_token(token), format_timestamp(now))
    if found is None:
        raise NotFound(
            phrase("this link is unknown, already used or expired"),
            "",
            phrase("ask for a new one"),
        )
    return found


def accept_invite(
    store: Store, token: str, *, code: str, name: str, password: str, again: str, now: datetime
) -> SignedIn:
    """Makes the account, or sets its new password, and signs in.

    Raises NotFound, BadInput, Clash; after these the link is still good.
    """
    invite = get_invite(store, token, now)
    code = check_code(invite.code or code)
    name = invite.name or check_name(name)
    check_new_password(password, again, code)
    password_hash = hash_password(password)
    with store.writing() as connection:
        if invite.code is None and accounts.find_account(connection, code):
            raise Clash(
                phrase("there is already an account with this code"),
                code,
                phrase("choose another code"),
            )
        if not use_invite(connection, hash_token(token), format_timestamp(now)):
            raise NotFound(phrase("this link has just been used"), "", phrase("ask for a new one"))
        accounts.save_account(
            connection,
            code=code,
            name=name,
            role=invite.role,
            password_hash=password_hash,
            now=format_timestamp(now),
        )
        revoke_sessions(connection, code, format_timestamp(now))
        distrust_browsers(connection, code)
        # Another link for it, made elsewhere, would set its password once more.
        expire_invites(connection, format_timestamp(now), code=code)
        known = trust(connection, code, None, now)
        return SignedIn(open_session(connection, code, now), code, known)


def disable_account(connection: Connection, *, code: str, now: datetime) -> None:
    """No more signing in, and every session ends. Raises NotFound, Clash for the last lead."""
    account = accounts.get_account(connection, code)
    is_lead = account.role.endswith("_lead") and account.disabled_at is None
    if is_lead and accounts.count_enabled(connection, account.role) == 1:
        raise Clash(
            phrase("this is the only account of a lead"),
            code,
            phrase("add another one first, or nobody can open this page again"),
        )
    accounts.disable_account(connection, code, format_timestamp(now))
    revoke_sessions(connection, code, format_timestamp(now))
    distrust_browsers(connection, code)
    expire_invites(connection, format_timestamp(now), code=code)


def check_code(text: str) -> str:
    code = as_code(text)
    if not CODE.fullmatch(code):
        raise BadInput(
            phrase("%(text)s is not a valid sign-in code", text=repr(text.strip()[:30])),
            "code",
            phrase("use 2 to 20 letters, digits, - or _"),
        )
    return code


def check_name(text: str) -> str:
    name = text.strip()
    if not name or len(name) > MAX_NAME or not name.isprintable():
        raise BadInput(
            phrase("a name is needed"),
            "name",
            phrase("write 1 to %(max_name)s characters", max_name=MAX_NAME),
        )
    return name
