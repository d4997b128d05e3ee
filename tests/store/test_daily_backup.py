"""Backups by themselves: once a day, looked through, kept by number, at a second place too."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest

from qcapp.errors import BadInput, StoreError
from qcapp.settings import Settings
from qcapp.store.upkeep.backup import check_database, restore
from qcapp.store.upkeep.daily_backup import (
    BackupPlan,
    copy_to_second,
    is_due,
    is_late,
    list_backups,
    make_daily_backup,
)
from qcapp.usecases.keep_backups import BackupKeeper, make_keeper
from tests.builders import NOW, open_small_store
from tests.store.test_backup import Phone, get_head, push


@pytest.fixture
def yard(tmp_path):
    """(url, store) of a yard with three records."""
    store, checklist = open_small_store(tmp_path / "yard.db")
    phone = Phone(checklist)
    push(store, *(phone.inspect(f"B1-{n:03}") for n in range(3)))
    return store.url, store


@pytest.fixture
def plan(tmp_path):
    return BackupPlan("yard", tmp_path / "backups", None, keep=3)


def list_names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_one_a_day_and_the_newest_by_number_are_kept(yard, plan):
    url, _store = yard
    assert is_due(plan, NOW) and is_late(plan, NOW)
    for day in range(5):
        make_daily_backup(url, plan, NOW + timedelta(days=day))
    days = [one.made_at.day for one in list_backups(plan.folder, plan.name)]
    assert days == [(NOW + timedelta(days=day)).day for day in (4, 3, 2)]
    assert len(list_names(plan.folder)) == 3, "no part and no side file is left"
    last = NOW + timedelta(days=4)
    assert not is_due(plan, last + timedelta(hours=23))
    assert is_due(plan, last + timedelta(hours=24))
    assert not is_late(plan, last + timedelta(hours=47))
    assert is_late(plan, last + timedelta(hours=49))


def test_clock_set_back_by_days_does_not_stop_backups(yard, plan):
    make_daily_backup(yard[0], plan, NOW)
    assert is_due(plan, NOW - timedelta(days=3))
    assert not is_due(plan, NOW - timedelta(minutes=30))


def test_each_kept_copy_can_be_restored(yard, plan, tmp_path):
    url, store = yard
    head = get_head(url)
    for day in range(2):
        make_daily_backup(url, plan, NOW + timedelta(days=day))
    store.close()
    for one in list_backups(plan.folder, plan.name):
        elsewhere = f"sqlite:///{tmp_path / one.path.stem}.db"
        assert restore(elsewhere, one.path, now=NOW).found.chain == head.chain
        assert get_head(elsewhere).seq == 3


def test_altered_records_are_told_and_no_older_copy_is_thrown_away(yard, plan):
    url, store = yard
    for day in range(3):
        make_daily_backup(url, plan, NOW + timedelta(days=day))
    with store.writing() as connection:
        connection.exec_driver_sql(
            "UPDATE log SET raw = replace(raw, 'B1-001', 'B1-901') WHERE seq = 2"
        )
    with pytest.raises(BadInput, match="altered, and not by this program"):
        make_daily_backup(url, plan, NOW + timedelta(days=3))
    assert len(list_backups(plan.folder, plan.name)) == 4


def test_second_place_gets_each_copy_and_says_when_it_is_gone(yard, plan, tmp_path):
    url, _store = yard
    stick = tmp_path / "stick"
    plan = BackupPlan(plan.name, plan.folder, stick, plan.keep)
    make_daily_backup(url, plan, NOW)
    with pytest.raises(StoreError, match="second place"):
        copy_to_second(plan)
    stick.mkdir()
    assert copy_to_second(plan).path.read_bytes() == next(plan.folder.iterdir()).read_bytes()
    for day in range(1, 5):
        make_daily_backup(url, plan, NOW + timedelta(days=day))
        copy_to_second(plan)
    assert list_names(stick) == list_names(plan.folder)


def test_spoilt_copy_on_the_stick_is_written_again(yard, plan, tmp_path):
    plan = BackupPlan(plan.name, plan.folder, tmp_path, plan.keep)
    make_daily_backup(yard[0], plan, NOW)
    kept = copy_to_second(plan).path
    kept.write_bytes(kept.read_bytes()[:-10])
    copy_to_second(plan)
    check_database(kept)


def test_two_yards_share_a_folder_without_touching_each_other(yard, plan, tmp_path):
    other, _checklist = open_small_store(tmp_path / "yard-two.db")
    beside = BackupPlan("yard-two", plan.folder, None, plan.keep)
    for day in range(4):
        make_daily_backup(yard[0], plan, NOW + timedelta(days=day))
        make_daily_backup(other.url, beside, NOW + timedelta(days=day))
    assert len(list_backups(plan.folder, "yard")) == len(list_backups(plan.folder, "yard-two")) == 3


def test_keeper_keeps_on_after_a_failure_and_tells_of_it(yard, tmp_path):
    url, _store = yard
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder should be")
    moments = [NOW]
    settings = Settings(backup_dir=blocked)
    keeper = make_keeper(settings, url, lambda: moments[0])
    keeper.back_up_if_due()
    assert isinstance(keeper.describe().problem, StoreError) and keeper.describe().is_late
    blocked.unlink()
    keeper.back_up_if_due()
    assert keeper.describe().problem is None and len(keeper.describe().backups) == 1
    keeper.back_up_if_due()
    assert len(keeper.describe().backups) == 1, "the next one is not due yet"


def test_stick_that_returns_gets_its_copy_before_the_next_is_due(yard, tmp_path):
    plan = BackupPlan("yard", tmp_path / "backups", tmp_path / "stick", 3)
    keeper = BackupKeeper(yard[0], plan, lambda: NOW)
    keeper.back_up_if_due()
    assert keeper.second_problem and not keeper.describe().second
    plan.second.mkdir()
    keeper.back_up_if_due()
    assert keeper.second_problem is None and len(keeper.describe().second) == 1


def test_postgresql_and_memory_have_no_keeper():
    for url in ("postgresql+psycopg://yard@localhost/yard", "sqlite://"):
        assert make_keeper(Settings(), url, lambda: NOW) is None


KILLED = """
import sys, time
from datetime import datetime, UTC
from pathlib import Path
import qcapp.store.upkeep.daily_backup as daily
if sys.argv[3] == "copy":
    import qcapp.store.upkeep.backup as backup
    backup.check_database = lambda *_a, **_k: (print("here", flush=True), time.sleep(60))
else:
    daily._look_through = lambda *_a: (print("here", flush=True), time.sleep(60))
plan = daily.BackupPlan("yard", Path(sys.argv[2]), None, 3)
daily.make_daily_backup(sys.argv[1], plan, datetime.fromisoformat(sys.argv[4]))
"""


@pytest.mark.parametrize("moment", ["copy", "look"])
def test_power_cut_in_the_middle_leaves_no_half_backup(yard, plan, moment):
    url, _store = yard
    make_daily_backup(url, plan, NOW - timedelta(days=1))
    command = [sys.executable, "-c", KILLED, url, str(plan.folder), moment, NOW.isoformat()]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as cut:
        assert cut.stdout.readline().strip() == "here"
        cut.send_signal(signal.SIGKILL)
    for one in list_backups(plan.folder, plan.name):
        check_database(one.path)
    long_ago = time.time() - 7 * 86_400
    for path in plan.folder.iterdir():
        os.utime(path, (long_ago, long_ago))
    make_daily_backup(url, plan, NOW + timedelta(days=1))
    names = list_names(plan.folder)
    assert all(not name.startswith(".") and (plan.folder / name).stat().st_size for name in names)


def test_no_room_is_told_and_the_older_copies_stay(yard, plan, monkeypatch):
    url, _store = yard
    make_daily_backup(url, plan, NOW)
    before = list_names(plan.folder)

    def refuse(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", refuse)
    with pytest.raises(StoreError, match="No space left"):
        make_daily_backup(url, plan, NOW + timedelta(days=1))
    assert set(before) <= set(list_names(plan.folder))


def test_copy_is_one_file_for_its_owner_only(yard, plan):
    file, _found = make_daily_backup(yard[0], plan, NOW)
    assert file.stat().st_mode & 0o777 == 0o600
    assert plan.folder.stat().st_mode & 0o777 == 0o700
    with sqlite3.connect(f"file:{file}?immutable=1", uri=True) as connection:
        assert connection.execute("PRAGMA quick_check").fetchone() == ("ok",)
    assert Path(f"{file}-wal").exists() is False
