"""Sign in and out, use a one-time link: each leaves a line in the trail."""

from datetime import datetime

from qcapp.access import invites, sessions
from qcapp.access.attempts import count_try, read_count
from qcapp.access.sessions import SignedIn
from qcapp.errors import TooMany
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.sync.audit_trail import note


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
    """None for a wrong code or password. Raises TooMany."""
    try:
        done = sessions.sign_in(
            store,
            code=code,
            password=password,
            address=address,
            old_token=old_token,
            browser=browser,
            now=now,
        )
    except TooMany:
        _note_blocked(store, sessions.as_code(code), now)
        raise
    if done:
        about = {"failed_before": str(done.failed_before)}
        with store.writing() as connection:
            note(connection, action="signed_in", by=done.code, about=about, now=now)
    return done


def _note_blocked(store: Store, code: str, now: datetime) -> None:
    """Once a stretch, however many sources were stopped: the log keeps every line for ever. Only
    for a code that is an account's: what strangers type is not kept. What a refusal costs must not
    tell which codes are: both are read in any case.
    """
    is_told = read_count(store, "told", code) > 0
    with store.reading() as connection:
        is_account = accounts.find_account(connection, code) is not None
    if is_told or not is_account:
        return
    try:
        count_try(store, {"told": code}, now)
    except TooMany:
        return
    with store.writing() as connection:
        note(connection, action="sign_in_blocked", by="nobody", about={"account": code}, now=now)


def sign_out(store: Store, token: str | None, now: datetime) -> None:
    with store.writing() as connection:
        sessions.end_session(connection, token, now)


def use_invite(
    store: Store, token: str, *, code: str, name: str, password: str, again: str, now: datetime
) -> tuple[SignedIn, str]:
    """(the session of the account that was made or got its new password, its role). Raises
    NotFound, BadInput, Clash; after these the link is still good.
    """
    done = invites.accept_invite(
        store, token, code=code, name=name, password=password, again=again, now=now
    )
    with store.writing() as connection:
        note(connection, action="link_used", by=done.code, now=now)
        account = accounts.find_account(connection, done.code)
    return done, account.role if account else ""
