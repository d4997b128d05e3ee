"""A week from its beginning to its reckoning."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.sync.simulation.phone import running_phones
from tests.sync.week.faults import deal
from tests.sync.week.play import Size, Week
from tests.sync.week.reckoning import Reckoning, reckon
from tests.sync.week.yard import WeekYard

SEED = 11


def play_and_reckon(size: Size, seed: int) -> Reckoning:
    with playing(size, seed) as week:
        return reckon(week)


@contextmanager
def playing(size: Size, seed: int) -> Iterator[Week]:
    """A week that has come to rest, its server still open. In the machine's memory where there is
    such a folder; nothing stays behind.
    """
    memory_disk = Path("/dev/shm")
    with tempfile.TemporaryDirectory(
        prefix="qcapp-week-", dir=memory_disk if memory_disk.is_dir() else None
    ) as folder:
        yard = WeekYard(Path(folder))
        try:
            with running_phones(lambda: yard.now_ms) as phones:
                week = Week(yard, phones, size, seed)
                week.play(deal(size, seed))
                yield week
        finally:
            yard.close()
