"""Joining a phone: a one-time code on the laptop becomes a token on the phone.

A code is eight letters and digits without those that look alike (0 O 1 I L), so about
39 bits, good once and for minutes. A token is 256 random bits and does not expire,
because a phone without signal cannot renew it; only its SHA-256 is kept here.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from qcapp.errors import BadInput, NotFound, NotPaired
from qcapp.store import devices
from qcapp.store.engine import Store
from qcapp.store.log import get_server_id
from qcapp.store.moment import as_text

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
CODE_LENGTH = 8
MOST_ID_LENGTH = 64


@dataclass(frozen=True)
class Joined:
    device_id: str
    token: str
    name: str
    server_id: str


def make_join_code(store: Store, *, name: str, minutes: int, now: datetime) -> str:
    """A fresh code for a phone of this name, good for `minutes`."""
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    with store.writing() as connection:
        devices.add_join_code(
            connection, code_hash=_hash(code), name=name, expires_at=as_text(now + timedelta(minutes=minutes))
        )
    return code


def join_device(store: Store, *, code: str, device_id: str, now: datetime) -> Joined:
    """Trades a code for a token. Raises BadInput when the code is unknown, used or too old."""
    if not device_id or len(device_id) > MOST_ID_LENGTH:
        raise BadInput("the phone did not say its id", "device_id", "reload the app and try again")
    token = secrets.token_urlsafe(32)
    with store.writing() as connection:
        name = devices.use_join_code(connection, _hash(code.strip().upper().replace("-", "")), as_text(now))
        if name is None:
            raise BadInput("this code is not known, already used or too old", "code", "ask the yard lead for a new one")
        devices.save_device(connection, device_id=device_id, name=name, token_hash=_hash(token), now=as_text(now))
        return Joined(device_id, token, name, get_server_id(connection))


def get_device(store: Store, authorization: str | None) -> str:
    """The device id behind an `Authorization: Bearer ...` header. Raises NotPaired."""
    scheme, _, token = (authorization or "").partition(" ")
    token_hash = _hash(token.strip())
    device = None
    if scheme.lower() == "bearer" and token.strip():
        with store.reading() as connection:
            device = devices.find_device(connection, token_hash)
    if device is None:
        raise NotPaired("this phone must be paired again", "token", "enter a new join code; unsent work is safe")
    if device.revoked_at is not None:
        raise NotPaired("the yard lead has signed this phone off", "token", "ask for a new join code; unsent work is safe on the phone")
    if device.is_next:
        with store.writing() as connection:
            devices.settle_token(connection, device.id, token_hash)
    return device.id


def rotate_token(store: Store, device_id: str) -> str:
    """A new token for a joined phone.

    The present one stays good until the new one is used for the first time: an answer that is
    lost on the way, or a phone in a drawer for a year, locks nobody out.
    """
    token = secrets.token_urlsafe(32)
    with store.writing() as connection:
        devices.offer_token(connection, device_id, _hash(token))
    return token


def revoke_device(store: Store, device_id: str, *, now: datetime) -> None:
    """Signs a phone off, as when it is stolen; joining again lets it back. Raises NotFound."""
    with store.writing() as connection:
        if not devices.revoke(connection, device_id, as_text(now)):
            raise NotFound("there is no such phone", device_id, "see the list of phones")


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
