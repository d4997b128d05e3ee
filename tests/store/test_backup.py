"""Backup while the server writes; putting back checks first and keeps what it replaces."""

import shutil
import sqlite3
import stat
import threading
from datetime import timedelta

import pytest

from qcapp.errors import BadInput, Clash, NotFound, StoreError
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.upkeep.backup import back_up, check_database, restore
from qcapp.sync.push import parse_push, receive_push
from tests.builders import NOW, Phone, build_push, open_small_store


@pytest.fixture
def yard(tmp_path):
    """(url, store, phone) of a yard with three records."""
    store, checklist = open_small_store(tmp_path / "yard.db")
    phone = Phone(checklist)
    push(store, *(phone.inspect(f"B1-{n:03}") for n in range(3)))
    return store.url, store, phone


def push(store, *events):
    receive_push(store, parse_push(build_push(list(events))), relayed_by=Phone.device_id, now=NOW)


def list_files(folder):
    return sorted(path.name for path in folder.iterdir())


def get_head(url):
    store = Store(url)
    with store.reading() as connection:
        return log.get_head(connection)


def test_backup_is_one_whole_file_for_its_owner_only(yard, tmp_path):
    url, store, _phone = yard
    target = tmp_path / "copies" / "a.db"
    target.parent.mkdir()
    found = back_up(url, target)
    with store.reading() as connection:
        assert (found.seq, found.chain, found.server_id) == (
            3,
            log.get_head(connection).chain,
            log.get_server_id(connection),
        )
    assert list_files(target.parent) == ["a.db"] and stat.S_IMODE(target.stat().st_mode) == 0o600
    assert check_database(target) == found
    assert sqlite3.connect(target).execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_backup_never_overwrites(yard, tmp_path):
    target = tmp_path / "a.db"
    target.write_text("mine")
    with pytest.raises(Clash):
        back_up(yard[0], target)
    assert target.read_text() == "mine"


def test_failed_backup_leaves_no_file(yard, tmp_path, monkeypatch):
    with pytest.raises(BadInput):
        back_up(yard[0], tmp_path / "nowhere" / "a.db")

    def no_room(*_words):
        raise StoreError(
            "the copy could not be written: database or disk is full", "a", "free room"
        )

    monkeypatch.setattr("qcapp.store.upkeep.backup._copy", no_room)
    before = list_files(tmp_path)
    with pytest.raises(StoreError):
        back_up(yard[0], tmp_path / "a.db")
    assert list_files(tmp_path) == before


def test_backup_of_a_yard_that_writes_is_one_moment_of_its_log(yard, tmp_path):
    url, store, phone = yard
    stop = threading.Event()

    def write():
        while not stop.is_set():
            push(store, *(phone.inspect("B1-009") for _ in range(5)))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        found = [back_up(url, tmp_path / f"{n}.db") for n in range(6)]
    finally:
        stop.set()
        writer.join()
    heads = [one.seq for one in found]
    assert heads == sorted(heads) and len(set(heads)) > 1
    with store.reading() as connection:
        for n, one in enumerate(found):
            # Whole pushes of five, whose running hash is this log's own.
            assert (one.seq - 3) % 5 == 0 and log.find_chain(connection, one.seq) == one.chain
            assert check_database(tmp_path / f"{n}.db") == one


def test_restored_database_is_the_backup_and_the_replaced_one_is_kept(yard, tmp_path):
    url, store, phone = yard
    back_up(url, tmp_path / "a.db")
    push(store, phone.inspect("B1-004"))
    newer = get_head(url)
    done = restore(url, tmp_path / "a.db", now=NOW)
    assert (done.found.seq, done.was.seq) == (3, 4) and get_head(url).seq == 3
    assert done.kept == tmp_path / "yard.replaced-20261125-090000.db"
    assert get_head(f"sqlite:///{done.kept}") == newer
    assert not [name for name in list_files(tmp_path) if name.startswith(".")]
    back = restore(url, done.kept, now=NOW + timedelta(seconds=1))
    assert back.found.seq == 4 and get_head(url) == newer


def test_restore_where_there_is_no_database_yet(yard, tmp_path):
    back_up(yard[0], tmp_path / "a.db")
    url = f"sqlite:///{tmp_path / 'new' / 'yard.db'}"
    done = restore(url, tmp_path / "a.db", now=NOW)
    assert done.kept is None and get_head(url).seq == 3


def test_restore_from_a_place_that_cannot_be_written(yard, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    back_up(yard[0], stick / "a.db")
    (stick / "a.db").chmod(0o400)
    stick.chmod(0o500)
    try:
        assert restore(yard[0], stick / "a.db", now=NOW).found.seq == 3
        assert list_files(stick) == ["a.db"]
    finally:
        stick.chmod(0o700)


def test_plain_copy_with_its_write_ahead_log_is_taken_with_it(yard, tmp_path):
    url, store, phone = yard
    store.hold()
    push(store, phone.inspect("B1-004"))
    for ending in ("", "-wal"):
        shutil.copy(f"{tmp_path / 'yard.db'}{ending}", f"{tmp_path / 'raw.db'}{ending}")
    store.close()
    assert restore(url, tmp_path / "raw.db", now=NOW).found.seq == 4


def damage_log(path):
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE log SET hash = 'x' WHERE seq = 2")


def drop_record(path):
    with sqlite3.connect(path) as raw:
        raw.execute("DELETE FROM log WHERE seq = 2")


def make_newer(path):
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")


def empty(path):
    path.write_bytes(b"")


def cut(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def write_text(path):
    path.write_text("not a database at all, but long enough to look like a file of one" * 50)


def make_other(path):
    path.unlink()
    with sqlite3.connect(path) as raw:
        raw.execute("CREATE TABLE other (a)")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (damage_log, "running hash does not match at record 2"),
        (drop_record, "running hash does not match at record 3"),
        (make_newer, "newer version"),
        (empty, "not a database of this program"),
        (cut, "database is not complete"),
        (write_text, "database is not complete"),
        (make_other, "not a database of this program"),
    ],
)
def test_what_is_no_sound_backup_changes_nothing(yard, tmp_path, spoil, says):
    url, _store, _phone = yard
    back_up(url, tmp_path / "a.db")
    spoil(tmp_path / "a.db")
    before = get_head(url), list_files(tmp_path)
    with pytest.raises(BadInput) as caught:
        restore(url, tmp_path / "a.db", now=NOW)
    assert says in str(caught.value) or ("damaged" in str(caught.value) and spoil is cut)
    assert (get_head(url), list_files(tmp_path)) == before


def test_missing_file_is_named(yard, tmp_path):
    with pytest.raises(NotFound):
        restore(yard[0], tmp_path / "none.db", now=NOW)


def test_restore_is_refused_while_a_server_has_the_database_open(yard, tmp_path):
    url, store, _phone = yard
    back_up(url, tmp_path / "a.db")
    store.hold()
    before = list_files(tmp_path)
    with pytest.raises(Clash) as caught:
        restore(url, tmp_path / "a.db", now=NOW)
    assert "open" in caught.value.what and list_files(tmp_path) == before
    store.close()
    assert restore(url, tmp_path / "a.db", now=NOW).found.seq == 3


def test_database_past_reading_can_be_replaced_and_is_kept(yard, tmp_path):
    url, _store, _phone = yard
    back_up(url, tmp_path / "a.db")
    write_text(tmp_path / "yard.db")
    spoilt = (tmp_path / "yard.db").read_bytes()
    done = restore(url, tmp_path / "a.db", now=NOW)
    assert done.was is None and done.kept.read_bytes() == spoilt and get_head(url).seq == 3


@pytest.mark.parametrize(
    "url",
    [
        "postgresql://yard@somewhere/yard",
        "sqlite:///:memory:",
        "sqlite://",
        "sqlite:///file:x?mode=ro",
    ],
)
def test_other_databases_are_told_to_use_their_own_tools(url, tmp_path):
    for attempt in (
        lambda: back_up(url, tmp_path / "a.db"),
        lambda: restore(url, tmp_path / "a.db", now=NOW),
    ):
        with pytest.raises(BadInput) as caught:
            attempt()
        assert "pg_dump --format=custom" in caught.value.todo and (
            "--dbname=yard " in caught.value.todo
        ) == url.startswith("postgresql")
    assert not list(tmp_path.iterdir())
