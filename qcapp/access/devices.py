"""Joining a phone: a one-time code on the laptop becomes a token on the phone.

A code is eight letters and digits without those that look alike (0 O 1 I L), so about
39 bits, good once and for minutes. A token is 256 random bits and does not expire,
because a phone without signal cannot renew it; only its SHA-256 is kept here.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from qcapp.errors import BadInput, NotPaired
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
    if scheme.lower() == "bearer" and token:
        with store.reading() as connection:
            device_id = devices.find_device(connection, _hash(token.strip()))
        if device_id is not None:
            return device_id
    raise NotPaired("this phone must be paired again", "token", "enter a new join code; unsent work is safe")


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
