"""A programme's server keeps checkpoints of its yards' logs, each of which is another person's
database: a yard whose log was made anew is seen by what its programme kept before.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from qcapp.errors import BadInput, StoreError
from qcapp.store.engine import Connection, Store
from qcapp.store.registry.seen_checkpoints import SeenCheckpoint, keep_seen, list_seen
from qcapp.store.timestamps import format_timestamp
from qcapp.transparency.checkpoint import parse_checkpoint
from qcapp.usecases.log_checkpoints import is_past

# Every push of a phone brings one.
BETWEEN = timedelta(minutes=10)
LOG = logging.getLogger("qcapp")


@dataclass
class YardWatch:
    """Keeps what one yard signs. programme: the store of whoever keeps it; yard: of the log."""

    programme: Store
    yard: Store
    address: str
    clock: Callable[[], datetime]
    _kept_at: datetime | None = field(default=None, repr=False)

    def keep(self, note: str) -> None:
        """Never in the way of a phone that sends: what cannot be kept now comes again."""
        now = self.clock()
        if self._kept_at is not None and now - self._kept_at < BETWEEN:
            return
        try:
            keep_checkpoint(self.programme, self.yard, self.address, note, now)
        except (StoreError, BadInput) as error:
            LOG.warning("the programme could not keep a checkpoint of %s: %s", self.address, error)
            return
        self._kept_at = now


def keep_checkpoint(programme: Store, yard: Store, address: str, note: str, now: datetime) -> None:
    """In place of those that the yard's log continues; what it does not continue stays for ever."""
    read = parse_checkpoint(note)
    fresh = SeenCheckpoint(read.size, read.root.hex(), format_timestamp(now), note)
    with programme.writing() as connection, yard.reading() as log:
        seen = list_seen(connection, address)
        broken = list_broken(log, seen)
        if fresh.size and not any(one.root == fresh.root for one in seen):
            instead_of = [one for one in seen if one not in broken]
            keep_seen(connection, address, fresh, instead_of=instead_of)


def list_broken(yard: Connection, seen: list[SeenCheckpoint]) -> list[SeenCheckpoint]:
    """Those that a yard's log does not continue."""
    return [one for one in seen if not is_past(yard, parse_checkpoint(one.note))]
