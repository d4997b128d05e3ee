"""Take in a file of records that a phone saved."""

import threading
from datetime import datetime
from typing import BinaryIO

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.export_file import parse_export_file
from qcapp.sync.import_file import ImportResult, import_export_file
from qcapp.usecases.one_import import only_one_import

# The largest thing that is asked of a server: one at a time, whoever asks.
TURN = threading.Lock()


def take_in_file(
    store: Store, content: bytes | BinaryIO, *, relayed_by: str, now: datetime
) -> ImportResult:
    """What became of it. Raises BadInput, TooLarge, TooMany while another file is taken in."""
    with only_one_import(TURN):
        return import_export_file(store, parse_export_file(content), relayed_by=relayed_by, now=now)


def find_held_back(store: Store, result: ImportResult) -> dict[str, int]:
    """{id of a record of the file that is held back: its number in the log}."""
    if not result.quarantined:
        return {}
    with store.reading() as connection:
        return {row.id: row.seq for row in log.list_quarantined(connection)}
