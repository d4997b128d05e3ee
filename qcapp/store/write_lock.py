"""One writer at a time in this process, first come, first served.

SQLite lets writers wait too, but it asks again and again by chance: among forty waiting ones some
are never lucky within its time-out. Here each gets its turn, and who would wait too long is told
at once to come again, so that the others' phones do not give up in the middle.
"""

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager

from qcapp.errors import StoreError
from qcapp.i18n.phrase import phrase

# Half of the server's threads: the other half stays free to read and to say "busy".
MAX_WAITING = 20
# Below a phone's own patience of 20 s.
MAX_WAIT_S = 15.0
COME_AGAIN_S = 5


class WriteLock:
    """A fair lock; its first in the queue is the one whose turn it is."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._queue: deque[threading.Event] = deque()

    @contextmanager
    def take(self) -> Iterator[None]:
        """Raises StoreTrouble when the queue is long or slow."""
        mine = self._line_up()
        if not mine.wait(MAX_WAIT_S) and self._give_up(mine):
            raise _busy()
        try:
            yield
        finally:
            self._pass_on()

    def _line_up(self) -> threading.Event:
        mine = threading.Event()
        with self._guard:
            if len(self._queue) > MAX_WAITING:
                raise _busy()
            self._queue.append(mine)
            self._queue[0].set()
        return mine

    def _give_up(self, mine: threading.Event) -> bool:
        """Whether the place was left; not when the turn came at the last moment."""
        with self._guard:
            if mine.is_set():
                return False
            self._queue.remove(mine)
            return True

    def _pass_on(self) -> None:
        with self._guard:
            self._queue.popleft()
            if self._queue:
                self._queue[0].set()


def _busy() -> StoreError:
    return StoreError(
        phrase("many phones are sending at once, and the server is slow"),
        "database",
        phrase("the phone tries again by itself"),
        retry_after_s=COME_AGAIN_S,
    )
