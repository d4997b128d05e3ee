"""The records as they were before a version that failed, file for file: whoever does this may be
older than the records, so it asks nothing of them but their shape's number.
"""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path


def put_back(path: Path, copy: Path, now: datetime) -> Path | None:
    """Puts a copy in the place of a database whose shape has changed since; doing it twice is as
    doing it once. Gives where the changed one is kept, None when nothing had to be done.
    """
    if not copy.is_file() or read_shape(path) == read_shape(copy):
        return None
    part = path.with_name(f".{path.name}.put-back")
    shutil.copyfile(copy, part)
    with part.open("rb+") as written:
        os.fsync(written.fileno())
    kept = path.with_name(f"{path.stem}.given-up-{now:%Y%m%d-%H%M%S}{path.suffix}")
    for ending in ("", "-wal", "-shm"):
        if Path(f"{path}{ending}").exists():
            Path(f"{path}{ending}").replace(f"{kept}{ending}")
    part.replace(path)
    return kept


def read_shape(path: Path) -> str | None:
    """The number of the last migration; None where there is none to be read."""
    if not path.is_file():
        return None
    try:
        with closing(sqlite3.connect(path)) as connection:
            found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.Error:
        return None
    return str(found[0]) if found else None
