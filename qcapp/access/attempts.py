"""Limits on guessing: how many tries an account, an address or a code bears in some time."""

import hashlib
import math
from collections.abc import Mapping
from datetime import datetime, timedelta

from qcapp.errors import TooMany
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.store.engine import Store
from qcapp.store.registry import attempts
from qcapp.store.timestamps import format_timestamp, parse_timestamp

STRETCH = timedelta(minutes=15)
# Requests at the same moment may be counted in another order than they came.
SKEW = timedelta(minutes=1)
# kind: most tries in a stretch. An address may be a whole office behind one router: it bears more.
# "account" and "join" are all strangers together: far more than one source may make, so that no
# single one keeps anybody out. "told" is no try: so often the trail says that one was refused.
MAX_TRIES = {
    "browser": 10,
    "account from address": 10,
    "account": 60,
    "address": 30,
    "session": 10,
    "join address": 20,
    "join": 2_000,
    "told": 1,
}


def count_try(store: Store, who: Mapping[str, str], now: datetime) -> None:
    """Counts a try of each {kind: value} before it is made.

    Raises TooMany when one has reached its limit; then nothing is counted: a source that is stopped
    and goes on would else use up what all share, and leave a row for each code it names.

    Counted first, so that many tries at once cannot slip through. The value is kept as a hash
    only: people type a password where the code belongs.
    """
    keys = {_key(kind, value): MAX_TRIES[kind] for kind, value in who.items()}
    with store.writing() as connection:
        # A clock that was set back must not make anybody wait for the time it once showed.
        attempts.drop_attempts(
            connection,
            until=format_timestamp(now - STRETCH),
            after=format_timestamp(now + SKEW),
        )
        found = attempts.find_attempts(connection, list(keys))
        since = [began for key, (count, began) in found.items() if count >= keys[key]]
        if not since:
            for key in keys:
                attempts.add_attempt(connection, key, format_timestamp(now))
            return
    raise _refuse((parse_timestamp(max(since)) + STRETCH - now).total_seconds())


def _refuse(left_s: float) -> TooMany:
    wait_s = max(1, math.ceil(left_s))
    todo = phrase_n(
        "wait %(n)s minute, then try again",
        "wait %(n)s minutes, then try again",
        math.ceil(wait_s / 60),
    )
    return TooMany(phrase("too many attempts"), "", todo, wait_s=wait_s)


def take_back_try(store: Store, who: Mapping[str, str]) -> None:
    """Uncounts one try of each, which was right; the wrong ones before it stay counted."""
    with store.writing() as connection:
        for kind, value in who.items():
            attempts.take_back_attempt(connection, _key(kind, value))


def read_count(store: Store, kind: str, value: str) -> int:
    """Tries counted and not yet forgotten."""
    with store.reading() as connection:
        return attempts.find_count(connection, _key(kind, value))


def forgive(store: Store, kind: str, value: str) -> int:
    """A right try clears the account's count; gives how many there had been before it.

    The address keeps its own, or a thief's one account would clear it.
    """
    with store.writing() as connection:
        return attempts.forget_attempts(connection, _key(kind, value)) - 1


def _key(kind: str, value: str) -> str:
    return f"{kind}:{hashlib.sha256(value.encode()).hexdigest()[:32]}"
