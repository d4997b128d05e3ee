"""A server and what phones record, opened once for many runs."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.sync.simulation.phone import Phones, running_phones
from tests.sync.simulation.records import Records, build_photos, build_records
from tests.sync.simulation.yard import Yard


@dataclass
class World:
    """Made once and used by every run: opening the app and starting Node cost more than a run."""

    yard: Yard
    phones: Phones
    records: Records
    photos: list[bytes]


@contextmanager
def open_world() -> Iterator[World]:
    """In the machine's memory where there is such a folder; nothing stays behind."""
    memory_disk = Path("/dev/shm")
    with tempfile.TemporaryDirectory(
        prefix="qcapp-faults-", dir=memory_disk if memory_disk.is_dir() else None
    ) as folder:
        yard = Yard(Path(folder))
        try:
            with running_phones(lambda: yard.now_ms) as phones:
                yield World(yard, phones, build_records(yard.checklist), build_photos())
        finally:
            yard.close()
