"""One file is taken in at a time."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from qcapp.errors import TooMany
from qcapp.i18n.phrase import phrase

WAIT_S = 30


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
