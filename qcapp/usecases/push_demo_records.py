"""Records of a phone of the demo beside the scenario's own: sealed, then pushed as from a yard."""

import secrets
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from qcapp.inspection.event import EventContent
from qcapp.scenario.fill import fill_yard
from qcapp.store.engine import Store
from qcapp.store.registry.devices import save_device
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.push import parse_push, receive_push


def push_demo_records(
    store: Store, records: Sequence[EventContent], *, name: str, now: datetime
) -> None:
    """records: of one phone, at least one; numbered here. name: the phone's.

    Raises what fill_yard raises for a record that does not count.
    """
    device_id = records[0].device_id
    with store.writing() as connection:
        save_device(
            connection,
            device_id=device_id,
            name=name,
            token_hash=secrets.token_hex(32),
            now=format_timestamp(now),
        )

    def push(request: dict[str, Any]) -> dict[str, Any]:
        return receive_push(store, parse_push(request), relayed_by=device_id, now=now).model_dump()

    for _done in fill_yard(push, _seal(records), format_timestamp(now)):
        pass


def _seal(records: Sequence[EventContent]) -> Iterator[dict[str, Any]]:
    """With gapless numbers, in the order made."""
    ordered = sorted(records, key=lambda one: (one.captured_at, one.id))
    for number, one in enumerate(ordered, start=1):
        yield EventContent(**{**vars(one), "dev_seq": number}).seal()
