"""A server and what phones record, opened once for many runs."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.sync.twin.records import Records, build_photos, build_records
from tests.sync.twin.yard import Yard


@dataclass
class World:
    """Made once and used by every run: opening the app costs more than a run."""

    yard: Yard
    records: Records
    photos: list[bytes]


def open_world() -> World:
    memory_disk = Path("/dev/shm")
    folder = tempfile.mkdtemp(prefix="qcapp-faults-", dir=memory_disk if memory_disk.is_dir() else None)
    yard = Yard(Path(folder))
    return World(yard, build_records(yard.checklist), build_photos())
