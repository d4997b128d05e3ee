"""A line of the trail for a change that was just made."""

from collections.abc import Mapping
from datetime import datetime

from qcapp.store.engine import Store
from qcapp.sync.audit_trail import note


def note_change(
    store: Store, *, action: str, by: str, about: Mapping[str, str], now: datetime
) -> None:
    with store.writing() as connection:
        note(connection, action=action, by=by, about=about, now=now)
