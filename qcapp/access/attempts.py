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
# kind: most tries in a stretch. An address may be a whole office behind one router: it bears more.
# "account" is all strangers together: far more than one source may make, so that no single one
# keeps an owner out who comes with a new browser; a browser known before is in none of theirs.
MAX_TRIES = {
    "browser": 10,
    "account from address": 10,
    "account": 60,
    "address": 30,
    "session": 10,
    "join address": 20,
    "join": 200,
}


def count_try(store: Store, who: Mapping[str, str], now: datetime) -> None:
    """Counts a try of each {kind: value} before it is made.

    Raises TooMany when one is over its limit.

    Counted first, so that many tries at once cannot slip through. The value is kept as a hash
    only: people type a password where the code belongs.
    """
    waits, is_first = [], False
    with store.writing() as connection:
        attempts.drop_old_attempts(connection, format_timestamp(now - STRETCH))
        for kind, value in who.items():
            count, since = attempts.add_attempt(
                connection,
                _key(kind, value),
                now=format_timestamp(now),
                forgotten_before=format_timestamp(now - STRETCH),
            )
            if count > MAX_TRIES[kind]:
                waits.append((parse_timestamp(since) + STRETCH - now).total_seconds())
                is_first = is_first or count == MAX_TRIES[kind] + 1
    if waits:
        wait_s = max(1, math.ceil(max(waits)))
        todo = phrase_n(
            "wait %(n)s minute, then try again",
            "wait %(n)s minutes, then try again",
            math.ceil(wait_s / 60),
        )
        raise TooMany(phrase("too many attempts"), "", todo, wait_s=wait_s, is_first=is_first)


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
