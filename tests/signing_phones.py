"""Keys of the tests' phones: made from the phone's id, so that a failure comes again."""

import base64
import functools
import hashlib
from collections.abc import Sequence
from datetime import datetime

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from qcapp.access.devices import join_device, make_join_code
from qcapp.inspection.signature import signed_bytes
from qcapp.store.engine import Store
from qcapp.store.log import get_head
from qcapp.store.registry.device_keys import add_key
from qcapp.usecases.join_phone import JoiningPhone, join_phone


@functools.cache
def _make_key(name: str) -> ec.EllipticCurvePrivateKey:
    number = int.from_bytes(hashlib.sha256(name.encode()).digest(), "big")
    return ec.derive_private_key(number >> 8, ec.SECP256R1())


def _to_text(content: bytes) -> str:
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def get_public_key(name: str) -> str:
    public = _make_key(name).public_key()
    return _to_text(public.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))


def sign_bytes(content: bytes, name: str) -> str:
    r, s = decode_dss_signature(_make_key(name).sign(content, ec.ECDSA(hashes.SHA256())))
    return _to_text(r.to_bytes(32, "big") + s.to_bytes(32, "big"))


def sign(event: dict, name: str | None = None) -> str:
    """The signature of the phone that the record names, or of another one."""
    return sign_bytes(signed_bytes(event["hash"]), name or event["device_id"])


def sign_all(events: Sequence[dict], name: str | None = None) -> list[str]:
    return [sign(event, name) for event in events]


def join_signing(
    store: Store,
    device_id: str,
    now: datetime,
    *,
    key: str | None = None,
    secret: str | None = None,
    name: str = "Phone",
) -> dict[str, str]:
    """The headers of a phone that joins with its key. key: whose, where it is not its own."""
    code = make_join_code(store, name=name, minutes=15, now=now)
    phone = JoiningPhone(code, device_id, get_public_key(key or device_id), secret)
    token = join_phone(store, phone, address="", now=now).token
    return {"Authorization": f"Bearer {token}"}


def introduce(store: Store, device_id: str, now: datetime) -> None:
    """The same without the lines of the trail: for tests that count the log's records."""
    code = make_join_code(store, name="Phone", minutes=15, now=now)
    join_device(store, code=code, device_id=device_id, now=now)
    with store.writing() as connection:
        seq = get_head(connection).seq
        add_key(connection, device_id, get_public_key(device_id), from_seq=seq, now=str(now))
