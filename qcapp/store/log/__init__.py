"""The append-only log with its running hash: the truth everything else is made from."""

from qcapp.store.log.append import Entry, State, append
from qcapp.store.log.chain import (
    Head,
    ensure_server_id,
    find_broken_link,
    find_chain,
    get_head,
    get_server_id,
    link,
)
from qcapp.store.log.devices import (
    DeviceCount,
    count_device_events,
    list_device_counts,
    list_device_numbers,
)
from qcapp.store.log.quarantined import (
    count_quarantined,
    count_waiting,
    find_counted,
    list_decided_hashes,
    list_quarantined,
)
from qcapp.store.log.read import (
    LogRecord,
    ServerRecord,
    find_record,
    has_stove_records_after,
    list_after,
    list_by_kind,
    list_known,
    list_server_events,
    list_server_hashes,
    list_stove_events,
    list_stove_keys,
    list_trail,
)

__all__ = [
    "DeviceCount",
    "Entry",
    "Head",
    "LogRecord",
    "ServerRecord",
    "State",
    "append",
    "count_device_events",
    "count_quarantined",
    "count_waiting",
    "ensure_server_id",
    "find_broken_link",
    "find_chain",
    "find_counted",
    "find_record",
    "get_head",
    "get_server_id",
    "has_stove_records_after",
    "link",
    "list_after",
    "list_by_kind",
    "list_decided_hashes",
    "list_device_counts",
    "list_device_numbers",
    "list_known",
    "list_quarantined",
    "list_server_events",
    "list_server_hashes",
    "list_stove_events",
    "list_stove_keys",
    "list_trail",
]
