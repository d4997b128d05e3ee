"""Joining a phone: a one-time code on the laptop becomes a token on the phone.

A code is eight letters and digits without those that look alike (0 O 1 I L); the last is the check
character of the other seven, so the phone itself knows a mistyped one. That leaves about 34 bits,
good once and for minutes, with the tries counted. A token is 256 random bits and does not expire,
because a phone without signal cannot renew it; only its SHA-256 is kept here.
"""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from qcapp.access.attempts import count_try, take_back_try
from qcapp.access.secret import hash_token, make_token
from qcapp.access.source import read_source
from qcapp.errors import BadInput, NotAllowed, NotFound, NotPaired, TooMany
from qcapp.i18n.phrase import phrase
from qcapp.inspection.check_character import build_check_character, has_check_character
from qcapp.inspection.event import is_phone_id
from qcapp.store.engine import Store
from qcapp.store.log import get_server_id
from qcapp.store.registry import devices
from qcapp.store.timestamps import format_timestamp

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
CODE_LENGTH = 8


@dataclass(frozen=True)
class Joined:
    device_id: str
    token: str
    name: str
    server_id: str


def make_join_code(
    store: Store, *, name: str, minutes: int, now: datetime, buyer_batch: str | None = None
) -> str:
    """A fresh code for a phone of this name, good for `minutes`. buyer_batch: for a phone of the
    buyer's inspector, who checks this batch again and gets nothing else.
    """
    code = _draw_code()
    with store.writing() as connection:
        devices.add_join_code(
            connection,
            code_hash=hash_token(code),
            name=name,
            expires_at=format_timestamp(now + timedelta(minutes=minutes)),
            buyer_batch=buyer_batch,
        )
    return code


def _draw_code() -> str:
    """Drawn again until its check character is one of the clear signs too (31 of 36 are)."""
    while True:
        drawn = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH - 1))
        check = build_check_character(drawn)
        if check in ALPHABET:
            return drawn + check


def join_device(
    store: Store,
    *,
    code: str,
    device_id: str,
    now: datetime,
    address: str = "",
    secret: str | None = None,
) -> Joined:
    """Trades a code for a token.

    secret: by which a phone that lost its memory is known again.
    Raises BadInput when the code is mistyped, unknown, used or too old.

    Every phone may join again under its own id, a revoked one too: what it still holds comes along.
    """
    _refuse_odd_id(device_id)
    code = _read_code(code)
    tried = {"join address": read_source(address), "join": "every phone"}
    _count_try(store, tried, now)
    token = make_token()
    with store.writing() as connection:
        used = devices.use_join_code(connection, hash_token(code), format_timestamp(now))
        if used is None:
            raise BadInput(
                phrase("this code is unknown, already used or expired"),
                "code",
                phrase("ask the yard lead for a new one"),
            )
        devices.save_device(
            connection,
            device_id=device_id,
            name=used.name,
            buyer_batch=used.buyer_batch,
            token_hash=hash_token(token),
            now=format_timestamp(now),
            restart_hash=hash_token(secret) if secret else None,
        )
        joined = Joined(device_id, token, used.name, get_server_id(connection))
    # A right code is no guess: the phones of a whole yard may join behind one router in an hour.
    take_back_try(store, tried)
    return joined


def _refuse_odd_id(device_id: str) -> None:
    if not is_phone_id(device_id):
        raise BadInput(
            phrase("the phone did not send its id"),
            "device_id",
            phrase("reload the app and try again"),
        )


def _read_code(typed: str) -> str:
    """As it was drawn, however it was typed. A slip is no try: its check character finds it."""
    code = typed.strip().upper().replace("-", "").replace(" ", "")
    if len(code) != CODE_LENGTH or not has_check_character(code):
        raise BadInput(
            phrase("this is not a join code: a character is wrong or missing"),
            "code",
            phrase("check the code and type it again"),
        )
    return code


def _count_try(store: Store, tried: Mapping[str, str], now: datetime) -> None:
    try:
        count_try(store, tried, now)
    except TooMany as error:
        # 429 tells a phone that sends records to wait; here a person waits and must read why.
        raise NotAllowed(phrase("too many wrong codes"), "code", error.todo) from error


def get_device(store: Store, authorization: str | None) -> str:
    """The device id behind an `Authorization: Bearer ...` header; errors as identify_device."""
    return identify_device(store, authorization).id


def identify_device(store: Store, authorization: str | None) -> devices.TokenHolder:
    """The phone behind an `Authorization: Bearer ...` header.

    Raises NotPaired, in other words when it was signed off.
    """
    token = read_bearer(authorization)
    token_hash = hash_token(token or "")
    device = None
    if token:
        with store.reading() as connection:
            device = devices.find_token_holder(connection, token_hash)
    if device is None:
        raise NotPaired(
            phrase("this phone must join again"),
            "token",
            phrase("enter a new join code; unsent work is safe"),
        )
    if device.revoked_at is not None:
        raise NotPaired(
            phrase("the yard lead has removed this phone"),
            "token",
            phrase("ask for a new join code; unsent work is safe on the phone"),
        )
    if device.is_next:
        with store.writing() as connection:
            devices.settle_token(connection, device.id, token_hash)
    return device


def read_bearer(authorization: str | None) -> str | None:
    """The token of an `Authorization: Bearer ...` header, None without one."""
    scheme, _, token = (authorization or "").partition(" ")
    return token.strip() or None if scheme.lower() == "bearer" else None


def rotate_token(store: Store, device_id: str) -> str:
    """A new token for a joined phone.

    The present one stays good until the new one is used for the first time: an answer that is
    lost on the way, or a phone in a drawer for a year, locks nobody out.
    """
    token = make_token()
    with store.writing() as connection:
        devices.offer_token(connection, device_id, hash_token(token))
    return token


def revoke_device(store: Store, device_id: str, *, now: datetime) -> None:
    """Signs a phone off, as when it is stolen; joining again lets it back. Raises NotFound."""
    with store.writing() as connection:
        if not devices.revoke(connection, device_id, format_timestamp(now)):
            raise NotFound(
                phrase("there is no such phone"), device_id, phrase("see the list of phones")
            )
