"""Backups by themselves: one a day while the server runs, and what a page says of them."""

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from qcapp.errors import QcappError
from qcapp.settings import Settings
from qcapp.store.upkeep.backup import get_sqlite_path
from qcapp.store.upkeep.daily_backup import (
    BackupPlan,
    KeptBackup,
    copy_to_second,
    find_newest,
    is_due,
    is_late,
    list_backups,
    make_daily_backup,
)

LOGGER = logging.getLogger("qcapp.backup")
# The start's own work comes first; a laptop that slept is looked at soon after it woke.
FIRST_LOOK_S = 60
LOOK_EVERY_S = 600
JUST_NOW = timedelta(seconds=10)


@dataclass(frozen=True)
class BackupState:
    """backups, second: newest first; problem, second_problem: of the last try, None when it went
    well; is_late: nothing was copied for two days.
    """

    plan: BackupPlan
    backups: Sequence[KeptBackup]
    second: Sequence[KeptBackup]
    problem: QcappError | None
    second_problem: QcappError | None
    is_late: bool


class BackupKeeper:
    """Makes the daily copies of one SQLite database. One thread, woken now and then; a page may ask
    for a copy at once.
    """

    def __init__(self, url: str, plan: BackupPlan, clock: Callable[[], datetime]) -> None:
        self.url, self.plan, self._clock = url, plan, clock
        self.problem: QcappError | None = None
        self.second_problem: QcappError | None = None
        self._one_at_a_time = threading.Lock()
        self._end = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._thread = threading.Thread(target=self._keep_on, name="daily backup", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Does not wait for a copy in the making: a part of one is never taken for a backup."""
        self._end.set()

    def back_up_now(self) -> None:
        """One copy, whatever the hour. What goes wrong is kept to be shown, not raised."""
        with self._one_at_a_time:
            if not self._was_made_just_now():
                self.problem = _attempt(self._make_backup)
            self._bring_to_second()

    def _make_backup(self) -> None:
        make_daily_backup(self.url, self.plan, self._clock())

    def _was_made_just_now(self) -> bool:
        """A second press of the button asks for no second copy."""
        newest = find_newest(self.plan)
        return newest is not None and abs(self._clock() - newest.made_at) < JUST_NOW

    def back_up_if_due(self) -> None:
        if is_due(self.plan, self._clock()):
            self.back_up_now()
        elif self.second_problem:
            # The stick may be in again.
            with self._one_at_a_time:
                self._bring_to_second()

    def describe(self) -> BackupState:
        return BackupState(
            plan=self.plan,
            backups=list_backups(self.plan.folder, self.plan.name),
            second=list_backups(self.plan.second, self.plan.name) if self.plan.second else [],
            problem=self.problem,
            second_problem=self.second_problem,
            is_late=is_late(self.plan, self._clock()),
        )

    def _bring_to_second(self) -> None:
        self.second_problem = _attempt(lambda: copy_to_second(self.plan))

    def _keep_on(self) -> None:
        wait_s = FIRST_LOOK_S
        while not self._end.wait(wait_s):
            self.back_up_if_due()
            wait_s = LOOK_EVERY_S


def _attempt(work: Callable[[], object]) -> QcappError | None:
    try:
        work()
    except QcappError as error:
        LOGGER.warning("backup: %s: %s", error.where, error)
        return error
    return None


def make_plan(settings: Settings, url: str) -> BackupPlan:
    """Raises BadInput for a database that is no SQLite file."""
    path: Path = get_sqlite_path(url)
    folder = settings.backup_dir or path.parent / "backups"
    return BackupPlan(path.stem, folder, settings.backup_second_dir, settings.backup_keep)


def make_keeper(settings: Settings, url: str, clock: Callable[[], datetime]) -> BackupKeeper | None:
    """None for a database that is kept in other ways (PostgreSQL) or not at all (in memory)."""
    try:
        return BackupKeeper(url, make_plan(settings, url), clock)
    except QcappError:
        return None
