"""Take in a file of records that a phone saved."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import BinaryIO

from qcapp.errors import TooMany
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.export_file import ImportResult, import_export_file, parse_export_file

# The largest thing that is asked of a server: one at a time, whoever asks.
TURN = threading.Lock()
WAIT_S = 30


def take_in_file(
    store: Store, content: bytes | BinaryIO, *, relayed_by: str, now: datetime
) -> ImportResult:
    """What became of it. Raises BadInput, TooLarge, TooMany while another file is taken in."""
    with only_one_import(TURN):
        return import_export_file(store, parse_export_file(content), relayed_by=relayed_by, now=now)


@contextmanager
def only_one_import(turn: threading.Lock) -> Iterator[None]:
    """Raises TooMany at once when another has it: who waited here would fill the memory."""
    if not turn.acquire(blocking=False):
        raise TooMany(
            phrase("another file is being imported"),
            "file",
            phrase("wait half a minute, then try again"),
            wait_s=WAIT_S,
        )
    try:
        yield
    finally:
        turn.release()


def find_held_back(store: Store, result: ImportResult) -> dict[str, int]:
    """{id of a record of the file that is held back: its number in the log}."""
    if not result.quarantined:
        return {}
    with store.reading() as connection:
        return {row.id: row.seq for row in log.list_quarantined(connection)}
