"""A copy of the database while it is in use, and putting one back. SQLite only.

The copy is made by SQLite's online backup in one step, so it is one moment of the log however
much is written meanwhile. What is put back is checked first, and what it replaces is kept.
"""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, create_engine, inspect, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import NullPool

from qcapp.errors import BadInput, Clash, NotFound, StoreError
from qcapp.store import log
from qcapp.store.db_errors import get_short_name
from qcapp.store.upkeep.migrate import is_known_revision

NEEDED_TABLES = {"alembic_version", "log", "meta"}
BUSY_SECONDS = 10


@dataclass(frozen=True)
class Copied:
    """A checked database: its last record's number and running hash, and whose it is."""

    seq: int
    chain: str
    server_id: str


@dataclass(frozen=True)
class Restored:
    """found: what is in place now; kept: where the replaced file is; was: what that held."""

    found: Copied
    kept: Path | None
    was: Copied | None


def back_up(url: str, target: Path) -> Copied:
    """Writes a copy of the database to a file that must not exist yet."""
    path = get_sqlite_path(url)
    if not path.exists():
        raise NotFound(
            "there is no database here", str(path), "set QCAPP_DATABASE_URL to the one to copy"
        )
    part = target.with_name(f".{target.name}.part")
    with _claimed(target), _removed_after(part):
        _copy(str(path), part)
        found = check_database(part)
        part.replace(target)
    return found


def restore(url: str, source: Path, *, now: datetime) -> Restored:
    """Puts a backup in the place of the database, which is kept beside under a dated name.

    Raises BadInput when the file is no whole database of this program, Clash while a server or
    another command has the database open; then nothing is changed.
    """
    path = get_sqlite_path(url)
    if not source.is_file():
        raise NotFound("there is no such file", str(source), "name a file made by qcapp backup")
    path.parent.mkdir(parents=True, exist_ok=True)
    incoming = path.with_name(f".{path.name}.incoming")
    with _removed_after(incoming):
        # Nobody writes to a backup; without this a copy on a read-only stick cannot be opened.
        how = "mode=ro" if Path(f"{source}-wal").exists() else "immutable=1"
        _copy(f"file:{quote(str(source.resolve()))}?{how}", incoming)
        found = check_database(incoming, shown=source)
        was = _look_at(path)
        kept = _move_away(path, now)
        if kept:
            shutil.copymode(kept, incoming)
        incoming.replace(path)
    return Restored(found, kept, was)


def get_sqlite_path(url: str) -> Path:
    """Raises BadInput when the database is not a file of this program's own."""
    path = url.removeprefix("sqlite:///")
    name = "NAME" if url.startswith("sqlite") else get_short_name(url)
    if not url.startswith("sqlite:///") or path in ("", ":memory:") or path.startswith("file:"):
        raise BadInput(
            "only a database in a SQLite file can be copied or restored by this command",
            url.split("://", 1)[0],
            f"for PostgreSQL: pg_dump --format=custom --file=FILE {name}; restore with pg_restore"
            f" --clean --if-exists --dbname={name} FILE, then qcapp restore --by-hand",
        )
    return Path(path).expanduser()


def check_database(path: Path, *, shown: Path | None = None, address: str | None = None) -> Copied:
    """Raises BadInput when the file is damaged, not of this program, newer than it, or altered.

    address: SQLite's own of the file, where it must not be opened to be written.
    """
    shown = shown or path
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect(address or path, uri=address is not None),
        poolclass=NullPool,
    )
    try:
        with engine.connect() as connection:
            return _check(connection, str(shown))
    except DatabaseError as error:
        raise BadInput(
            f"this database is not complete: {error.orig}",
            str(shown),
            "use another backup; nothing was changed",
        ) from error


def _check(connection: Connection, shown: str) -> Copied:
    if not set(inspect(connection).get_table_names()) >= NEEDED_TABLES:
        raise BadInput(
            "this is not a database of this program", shown, "name a file made by qcapp backup"
        )
    damage = connection.execute(text("PRAGMA quick_check")).scalar_one()
    if damage != "ok":
        raise BadInput(
            f"the file is damaged: {damage}", shown, "use another backup; nothing was changed"
        )
    revision = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if not is_known_revision(revision):
        raise BadInput(
            f"it was made by a newer version of this program (schema {revision})",
            shown,
            "update qcapp first",
        )
    broken = log.find_broken_link(connection)
    if broken is not None:
        raise BadInput(
            f"the running hash does not match at record {broken}",
            shown,
            "somebody altered it; use another backup",
        )
    head = log.get_head(connection)
    return Copied(head.seq, head.chain, log.get_server_id(connection))


def _look_at(path: Path) -> Copied | None:
    """What the database to be replaced holds; None where there is none or it is past reading."""
    try:
        return check_database(path) if path.exists() else None
    except BadInput:
        return None


def _move_away(path: Path, now: datetime) -> Path | None:
    if not path.exists():
        return None
    kept = path.with_name(f"{path.stem}.replaced-{now:%Y%m%d-%H%M%S}{path.suffix}")
    if kept.exists():
        raise Clash("a database was already replaced in this second", str(kept), "try again")
    try:
        with closing(sqlite3.connect(path, timeout=1, isolation_level=None)) as connection:
            # Only the last one who has it open may leave the write-ahead log: one whole file then.
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        raise Clash(
            "a server or another command has this database open",
            str(path),
            "stop it first; nothing was changed",
        ) from error
    except sqlite3.DatabaseError:
        pass  # Past reading: it is kept as it is, with what lies beside it.
    for ending in ("", "-wal", "-shm"):
        if Path(f"{path}{ending}").exists():
            Path(f"{path}{ending}").replace(f"{kept}{ending}")
    return kept


def _copy(source: str, target: Path) -> None:
    # It holds who may send records: for its owner's eyes only.
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        with (
            closing(
                sqlite3.connect(source, uri=source.startswith("file:"), timeout=BUSY_SECONDS)
            ) as one,
            closing(sqlite3.connect(target)) as other,
        ):
            one.backup(other)
            # A single file, which can be carried about.
            other.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        raise StoreError(
            f"the copy could not be written: {error}",
            str(target),
            "free some space or name another place; nothing was changed",
        ) from error
    except sqlite3.DatabaseError as error:
        raise BadInput(
            f"this database is not complete: {error}",
            source,
            "use another backup; nothing was changed",
        ) from error


@contextmanager
def _claimed(target: Path) -> Iterator[None]:
    """Takes the name at once, so that two backups cannot both write it; freed on failure."""
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError as error:
        raise Clash(
            "this file already exists; a backup is never overwritten",
            str(target),
            "name another one",
        ) from error
    except OSError as error:
        raise BadInput(
            f"the file cannot be written: {error.strerror}", str(target), "name another place"
        ) from error
    try:
        yield
    except BaseException:
        target.unlink(missing_ok=True)
        raise


@contextmanager
def _removed_after(path: Path) -> Iterator[None]:
    path.unlink(missing_ok=True)
    try:
        yield
    finally:
        path.unlink(missing_ok=True)
