"""Signing in: a password becomes a session, kept here, whose cookie can be ended from here."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection

from qcapp.access.attempts import count_try, forgive, read_count, take_back_try
from qcapp.access.password import check_new_password, hash_password, is_password
from qcapp.access.secret import hash_token, make_token
from qcapp.access.trusted_browser import list_counts, trust
from qcapp.errors import NotAllowed
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.store.registry.invites import expire_invites
from qcapp.store.registry.sessions import (
    add_session,
    find_session,
    revoke_session,
    revoke_sessions,
    touch_session,
)
from qcapp.store.registry.trusted_browsers import distrust_browsers
from qcapp.store.timestamps import format_timestamp, parse_timestamp

LIFE = timedelta(days=30)
IDLE = timedelta(days=7)
# The time of last use is written at most this often: reading a page is not a write each time.
TOUCH = timedelta(minutes=10)


@dataclass(frozen=True)
class Caller:
    """Who asks. code: of an account; device_id: of a phone; session_no: of the cookie's session;
    buyer_batch: what a phone of the buyer's inspector checks again.
    """

    role: str
    code: str | None = None
    device_id: str | None = None
    session_no: int | None = None
    buyer_batch: str | None = None


NOBODY = Caller("anyone")


@dataclass(frozen=True)
class SignedIn:
    """browser: token of the cookie that makes this browser a known one. failed_before: wrong tries
    that its owner should know of: of this browser and of all strangers lately.
    """

    token: str
    code: str
    browser: str
    failed_before: int = 0


def as_code(text: str) -> str:
    """Codes of accounts are written one way, however they are typed."""
    return text.strip().upper()


def sign_in(
    store: Store,
    *,
    code: str,
    password: str,
    address: str,
    old_token: str | None,
    browser: str | None,
    now: datetime,
) -> SignedIn | None:
    """None for a wrong code or password: nobody learns which. browser: token of its cookie.

    Raises TooMany. The session is always a new one, and a cookie that came along ends, so that
    nobody can be made to use a session another knows.
    """
    code = as_code(code)
    counts = list_counts(store, code, browser=browser, address=address, now=now)
    count_try(store, counts, now)
    with store.reading() as connection:
        account = accounts.find_account(connection, code)
    usable = account if account and account.disabled_at is None else None
    if not is_password(password, usable.password_hash if usable else None):
        return None
    # The tries of strangers stay counted: the owner's coming must not give them new ones. Only this
    # one, which was right, is taken back: a whole office may sign in behind one router.
    own = "browser" if "browser" in counts else "account from address"
    failed_before = forgive(store, own, counts.pop(own))
    take_back_try(store, counts)
    if own == "browser":
        failed_before += read_count(store, "account", code)
    with store.writing() as connection:
        end_session(connection, old_token, now)
        known = trust(connection, code, browser, now)
        return SignedIn(open_session(connection, code, now), code, known, failed_before)


def open_session(connection: Connection, account: str, now: datetime) -> str:
    """A new session; gives its token, which is kept nowhere but in the browser's cookie."""
    token = make_token()
    add_session(
        connection,
        token_hash=hash_token(token),
        account=account,
        now=format_timestamp(now),
        expires_at=format_timestamp(now + LIFE),
    )
    return token


def find_caller(store: Store, token: str, now: datetime) -> Caller:
    """Whose cookie this is; NOBODY when it is unknown, ended, too old or long unused."""
    with store.reading() as connection:
        found = find_session(
            connection,
            hash_token(token),
            now=format_timestamp(now),
            used_after=format_timestamp(now - IDLE),
        )
    if found is None:
        return NOBODY
    if now - parse_timestamp(found.last_used_at) > TOUCH:
        with store.writing() as connection:
            touch_session(connection, found.no, format_timestamp(now))
    return Caller(found.role, code=found.account, session_no=found.no)


def end_session(connection: Connection, token: str | None, now: datetime) -> None:
    found = token and find_session(
        connection, hash_token(token), now=format_timestamp(now), used_after=""
    )
    if found:
        revoke_session(connection, found.no, format_timestamp(now))


def change_password(
    store: Store, caller: Caller, *, old: str, new: str, again: str, now: datetime
) -> SignedIn:
    """Ends every session of the account, in every browser, and its unused links; opens a new one.

    Raises NotAllowed, BadInput, TooMany.
    """
    code = caller.code or ""
    check_new_password(new, again, code)
    session = str(caller.session_no)
    count_try(store, {"session": session}, now)
    with store.reading() as connection:
        account = accounts.find_account(connection, code)
    if not is_password(old, account.password_hash if account else None):
        raise NotAllowed(
            phrase("the current password is wrong"),
            "present password",
            phrase("try again; ask the yard lead for a new link if it is lost"),
        )
    forgive(store, "session", session)
    fresh = hash_password(new)
    with store.writing() as connection:
        accounts.set_password(connection, code, fresh)
        revoke_sessions(connection, code, format_timestamp(now))
        distrust_browsers(connection, code)
        expire_invites(connection, format_timestamp(now), code=code)
        known = trust(connection, code, None, now)
        return SignedIn(open_session(connection, code, now), code, known)
