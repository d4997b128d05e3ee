"""Holds every record that counts against the key of the phone it names.

The keys are read from the log, where each was written down when its phone registered it, under the
running hash; the table of keys must say the same. From that record on, what counts of the phone is
signed. What came before it, and what a phone without a key made, nobody can prove.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.inspection.signature import is_signed
from qcapp.store.log import LogRecord
from qcapp.store.registry.device_keys import list_device_keys
from qcapp.store.tables import DEVICE


@dataclass
class SignatureCheck:
    """Looks at records in the log's order. signed: those that count and are proven; unsigned: those
    that count and that no key was there for.
    """

    first_ids: dict[str, str]
    keys: dict[str, dict[str, int]] = field(default_factory=dict)
    signed: int = 0
    unsigned: int = 0

    def find_unfit(self, record: LogRecord) -> Iterator[str]:
        """What is wrong with a record's signature."""
        if record.device_id == SERVER_DEVICE:
            self._note_key(record)
        elif record.state == "counted":
            yield from self._check(record)

    def _note_key(self, record: LogRecord) -> None:
        if record.kind != "trail":
            return
        try:
            body = json.loads(record.raw)["body"]
            if body["action"] == "phone_key":
                self._add_key(body["about"]["device"], body["about"]["key"], record.seq)
        except (ValueError, LookupError, TypeError):
            # A line that was altered is named by the checks of its content.
            return

    def _add_key(self, device_id: str, public_key: str, seq: int) -> None:
        self.keys.setdefault(device_id, {}).setdefault(public_key, seq)

    def _check(self, record: LogRecord) -> Iterator[str]:
        first_id = self.first_ids.get(record.device_id, record.device_id)
        known = [
            key
            for device_id, own in self.keys.items()
            if self.first_ids.get(device_id, device_id) == first_id
            for key in own
        ]
        if not known:
            self.unsigned += 1
        elif record.signature is None:
            yield "it counts without a signature, though its phone had a key"
        elif any(is_signed(record.hash, record.signature, key) for key in known):
            self.signed += 1
        else:
            yield "it counts, but its signature is not of the phone that it names"

    def find_unfit_keys(self, connection: Connection) -> Iterator[tuple[str, str]]:
        """(phone, what is wrong) of keys in the table, once the whole log was looked at."""
        in_log = {(phone, key, seq) for phone, own in self.keys.items() for key, seq in own.items()}
        in_table = {
            (one.device_id, one.public_key, one.from_seq) for one in list_device_keys(connection)
        }
        for device_id, _key, _seq in sorted(in_table - in_log):
            yield device_id, "it has a key that the log does not say it registered"
        for device_id, _key, seq in sorted(in_log - in_table):
            yield device_id, f"the key that it registered in record {seq} is gone"


def start_check(connection: Connection) -> SignatureCheck:
    rows = connection.execute(
        select(DEVICE.c.id, DEVICE.c.restart_of).where(DEVICE.c.restart_of.is_not(None))
    )
    return SignatureCheck({row.id: row.restart_of for row in rows})
