"""A phone becomes the yard's: its code traded for a token, with a line in the trail."""

from datetime import datetime

from qcapp.access.devices import Joined, join_device
from qcapp.store.engine import Store
from qcapp.sync.audit_trail import note


def join_phone(store: Store, *, code: str, device_id: str, address: str, now: datetime) -> Joined:
    """Raises BadInput, NotAllowed."""
    joined = join_device(store, code=code, device_id=device_id, now=now, address=address)
    with store.writing() as connection:
        note(
            connection,
            action="phone_joined",
            by="phone",
            about={"device": joined.device_id},
            now=now,
        )
    return joined
