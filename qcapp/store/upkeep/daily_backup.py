"""A copy of the database every day, looked through before it counts, the newest ones kept. SQLite
only: for PostgreSQL the guide says how.

A copy that shows altered records is kept too, but then no older one is thrown away: the last good
one must not leave before somebody has looked.
"""

import hashlib
import os
import re
import shutil
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from qcapp.errors import BadInput, StoreError
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.upkeep.audit import audit_store
from qcapp.store.upkeep.backup import Copied, back_up

WRITTEN = "%Y%m%d-%H%M%S"
EVERY = timedelta(days=1)
# Two nights missed: then it is said.
LATE = timedelta(days=2)
# A clock may run this far ahead before a copy from the future means that it was set back.
CLOCK_SLACK = timedelta(hours=1)


@dataclass(frozen=True)
class BackupPlan:
    """name: of the database, with which each copy's name begins; folder: of the copies; second:
    another place for each of them, such as a stick; keep: how many of the newest stay in each.
    """

    name: str
    folder: Path
    second: Path | None
    keep: int


@dataclass(frozen=True)
class KeptBackup:
    """made_at: UTC, by its name; size: bytes."""

    path: Path
    made_at: datetime
    size: int


def list_backups(folder: Path, name: str) -> list[KeptBackup]:
    """Daily copies of a database in a folder, the newest first; other files there are nobody's
    concern.
    """
    found, form = [], re.compile(rf"{re.escape(name)}-(\d{{8}}-\d{{6}})Z\.db")
    for path in folder.iterdir() if folder.is_dir() else ():
        match = form.fullmatch(path.name)
        # One without a byte is a name that a copy in the making has claimed.
        if match and (size := path.stat().st_size):
            made_at = datetime.strptime(match[1], WRITTEN).replace(tzinfo=UTC)
            found.append(KeptBackup(path, made_at, size))
    return sorted(found, key=lambda one: one.made_at, reverse=True)


def find_newest(plan: BackupPlan) -> KeptBackup | None:
    return next(iter(list_backups(plan.folder, plan.name)), None)


def is_due(plan: BackupPlan, now: datetime) -> bool:
    newest = find_newest(plan)
    return newest is None or not now - EVERY < newest.made_at <= now + CLOCK_SLACK


def is_late(plan: BackupPlan, now: datetime) -> bool:
    newest = find_newest(plan)
    return newest is None or now - newest.made_at > LATE


def make_daily_backup(url: str, plan: BackupPlan, now: datetime) -> tuple[Path, Copied]:
    """Copies the database into the plan's folder, looks through the copy, then throws away what is
    older than the newest ones. Gives the file and what it holds.

    Raises StoreError when the copy cannot be made, BadInput when it shows altered records.
    """
    try:
        plan.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise StoreError(
            phrase("the folder for backups cannot be made: %(why)s", why=error.strerror),
            str(plan.folder),
            phrase("name another one in QCAPP_BACKUP_DIR"),
        ) from error
    _drop_leftovers(plan, now)
    target = plan.folder / f"{plan.name}-{now.astimezone(UTC):{WRITTEN}}Z.db"
    found = back_up(url, target)
    _look_through(target)
    _keep_newest(plan.folder, plan)
    return target, found


def copy_to_second(plan: BackupPlan) -> KeptBackup | None:
    """Brings the newest copy to the second place and reads it back; None where there is no such
    place by the plan.

    Raises StoreError when the place is not there, has no room, or gives back something else.
    """
    newest = find_newest(plan)
    if plan.second is None or newest is None:
        return None
    target = plan.second / newest.path.name
    if not (target.exists() and _hash(target) == _hash(newest.path)):
        copy_whole(newest.path, target)
        _keep_newest(plan.second, plan)
    return KeptBackup(target, newest.made_at, newest.size)


def _look_through(backup: Path) -> None:
    """What `qcapp verify --log` does, on a copy of the copy: looking writes."""
    looked_at = backup.with_name(f".{backup.name}.look")
    try:
        shutil.copyfile(backup, looked_at)
        with closing(Store(f"sqlite:///{looked_at}")) as store:
            altered = audit_store(store).altered
    except OSError as error:
        raise StoreError(
            phrase("the backup cannot be looked through: %(why)s", why=error.strerror),
            str(backup),
            phrase("make room; older backups are kept"),
        ) from error
    finally:
        for ending in ("", "-wal", "-shm"):
            Path(f"{looked_at}{ending}").unlink(missing_ok=True)
    if altered:
        raise BadInput(
            phrase(
                "the database was altered, and not by this program: %(first)s (places: %(n)s)",
                first=altered[0],
                n=len(altered),
            ),
            str(backup),
            phrase("run qcapp verify --log; older backups are kept until a good one is made"),
        )


def _drop_leftovers(plan: BackupPlan, now: datetime) -> None:
    """What a run that was killed left: claimed names without a byte, and parts."""
    before = (now - CLOCK_SLACK).timestamp()
    for path in plan.folder.iterdir():
        is_part = path.name.startswith(f".{plan.name}-")
        is_claim = path.name.startswith(f"{plan.name}-") and not path.stat().st_size
        if (is_part or is_claim) and path.stat().st_mtime < before:
            path.unlink(missing_ok=True)


def copy_whole(source: Path, target: Path) -> None:
    """One file to another place, read back before it has its name. Raises StoreError."""
    part = target.with_name(f".{target.name}.part")
    try:
        if not target.parent.is_dir():
            raise FileNotFoundError(2, "No such folder", str(target.parent))
        shutil.copyfile(source, part)
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        is_whole = _hash(part) == _hash(source)
        if is_whole:
            part.replace(target)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise StoreError(
            phrase("the second place cannot be written: %(why)s", why=error.strerror),
            str(target.parent),
            phrase("put the stick in, or name another place in QCAPP_BACKUP_SECOND_DIR"),
        ) from error
    if not is_whole:
        part.unlink()
        raise StoreError(
            phrase("the second place does not return what was written to it"),
            str(target.parent),
            phrase("use another stick"),
        )


def _keep_newest(folder: Path, plan: BackupPlan) -> None:
    for old in list_backups(folder, plan.name)[plan.keep :]:
        old.path.unlink(missing_ok=True)


def _hash(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
