"""The yard's phones as they were last seen, and how much waits for the lead."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.device_states import DeviceState, list_devices_seen
from qcapp.usecases.log_checkpoints import LogDoubt, list_doubts


@dataclass(frozen=True)
class PhonesView:
    """waiting: records in quarantine about which nothing was decided yet."""

    phones: Sequence[DeviceState]
    waiting: int
    doubts: Sequence[LogDoubt] = ()

    @property
    def joined(self) -> int:
        return sum(phone.joined_at is not None for phone in self.phones)


def load_phones(store: Store) -> PhonesView:
    with store.reading() as connection:
        return PhonesView(
            list_devices_seen(connection), log.count_waiting(connection), list_doubts(connection)
        )
