"""Take in a file of records that a phone saved."""

from datetime import datetime

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.export_file import IMPORTED, ImportResult, import_export_file, parse_export_file


def take_in_file(
    store: Store, content: bytes, now: datetime
) -> tuple[ImportResult, dict[str, int]]:
    """(what became of it, {id of a record now in quarantine: its number in the log}). Raises
    BadInput, TooLarge.
    """
    result = import_export_file(store, parse_export_file(content), relayed_by=IMPORTED, now=now)
    if not result.quarantined:
        return result, {}
    with store.reading() as connection:
        return result, {row.id: row.seq for row in log.list_quarantined(connection)}
