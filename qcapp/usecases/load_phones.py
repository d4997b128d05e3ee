"""The yard's phones as they were last seen, and how much waits for the lead."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.sync.device_states import DeviceState, list_devices_seen
from qcapp.usecases.log_checkpoints import LogDoubt, list_doubts

MAX_OFFERED = 20


@dataclass(frozen=True)
class PhonesView:
    """waiting: records in quarantine about which nothing was decided yet; offered: batches that a
    buyer's inspector may check again.
    """

    phones: Sequence[DeviceState]
    waiting: int
    offered: Sequence[str]
    doubts: Sequence[LogDoubt] = ()

    @property
    def joined(self) -> int:
        return sum(phone.joined_at is not None for phone in self.phones)


def load_phones(store: Store) -> PhonesView:
    with store.reading() as connection:
        return PhonesView(
            list_devices_seen(connection),
            log.count_waiting(connection),
            summaries.list_offered_batches(connection, MAX_OFFERED),
            list_doubts(connection),
        )
