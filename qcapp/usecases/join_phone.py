"""A phone becomes the yard's: its code traded for a token, with a line in the trail."""

from dataclasses import dataclass
from datetime import datetime

from qcapp.access.devices import Joined, join_device
from qcapp.store.engine import Store
from qcapp.sync.audit_trail import note
from qcapp.sync.authorship import register_key


@dataclass(frozen=True)
class JoiningPhone:
    """key: with which it signs its records; secret: by which it is known when its memory is lost.
    Both are absent in an older app.
    """

    code: str
    device_id: str
    key: str | None = None
    secret: str | None = None


def join_phone(store: Store, phone: JoiningPhone, *, address: str, now: datetime) -> Joined:
    """Raises BadInput, NotAllowed. Joining is also how a phone gets another key."""
    joined = join_device(
        store,
        code=phone.code,
        device_id=phone.device_id,
        secret=phone.secret,
        now=now,
        address=address,
    )
    with store.writing() as connection:
        note(
            connection,
            action="phone_joined",
            by="phone",
            about={"device": joined.device_id},
            now=now,
        )
        register_key(connection, joined.device_id, phone.key, now)
    return joined
