"""Disk full, read-only, damaged: a clear answer, the phone keeps its work,
and it goes on by itself.
"""

import json
import resource
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from qcapp.settings import Settings
from tests.builders import open_small_store
from tests.e2e.server import YardServer
from tests.sync.simulation.call import Call
from tests.sync.simulation.phone import Phone, Phones, running_phones
from tests.sync.simulation.records import build_records
from tests.sync.simulation.wire import Wire
from tests.sync.simulation.yard import DEVICES, Yard

NOW_MS = 1_790_000_000_000

pytestmark = pytest.mark.slow


@pytest.fixture
def yard(tmp_path):
    made = Yard(tmp_path)
    yield made
    made.close()


@pytest.fixture(scope="module")
def phones():
    with running_phones(lambda: NOW_MS) as made:
        yield made


def make_phone(phones: Phones, token: str, checklist, count: int, padding: int) -> Phone:
    """A phone with so many records that wait."""
    phone = phones.make("phone", {"device_id": DEVICES[0], "dev_seq": 0, "token": token})
    records = build_records(checklist)
    for stove in range(count):
        phone.record(**records.inspect("good", f"S{stove}"), padding="x" * padding)
    return phone


@pytest.fixture
def phone(phones, yard):
    return make_phone(phones, yard.tokens[DEVICES[0]], yard.checklist, 10, 4000)


def exchange(phone: Phone, ask) -> tuple[str, int, int]:
    done = phone.exchange().run(ask)
    return done["text_key"], done["sent"], done["left"]


def check_kept_and_told(yard: Yard, phone: Phone, words: str) -> None:
    """The phone has all its work, and the answer says what is wrong, where and what to do."""
    assert exchange(phone, yard.ask) == ("sync.wait", 0, 10)
    wish = {
        "protocol": 1,
        "request_id": "r",
        "events": [row["event"] for row in phone.list_unsent()],
    }
    answer = yard.ask(Call.make("POST", "/api/sync/push", phone.meta["token"], wish))
    error = json.loads(answer.text)["error"]
    assert answer.status == 503 and int(answer.headers["retry-after"]) > 0
    assert words in error["what"] and error["where"] == "yard.db" and error["todo"]
    assert str(yard.folder) not in answer.text


def check_goes_on(yard: Yard, phone: Phone) -> None:
    assert exchange(phone, yard.ask) == ("sync.sent", 10, 0)
    assert sum(not row.is_trail for row in yard.read_log()) == 10


@contextmanager
def set_on_connect(yard: Yard, pragma: str) -> Iterator[None]:
    def listen(raw, _record):
        raw.execute(f"PRAGMA {pragma}")

    event.listen(yard.store.engine, "connect", listen)
    yard.store.close()
    yield
    event.remove(yard.store.engine, "connect", listen)
    yard.store.close()


# A smaller number of pages than there are means: no page more.
@pytest.mark.parametrize(
    ("pragma", "words"), [("max_page_count=1", "too full"), ("query_only=ON", "cannot be written")]
)
def test_a_full_or_read_only_database_takes_nothing_and_loses_nothing(yard, phone, pragma, words):
    """SQLite's own limits stand for the disk's: the errors are the same,
    and any machine can have them.
    """
    with set_on_connect(yard, pragma):
        check_kept_and_told(yard, phone, words)
    check_goes_on(yard, phone)


def test_a_locked_database_says_come_again(yard, phone):
    other = sqlite3.connect(yard.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with set_on_connect(yard, "busy_timeout=10"):
        check_kept_and_told(yard, phone, "busy")
    other.execute("ROLLBACK")
    other.close()
    check_goes_on(yard, phone)


def test_a_damaged_database_says_restore_and_the_phone_heals_the_backup(yard, phone):
    backup = yard.backup()
    yard.store.close()
    yard.path.write_bytes(b"no database at all" * 1000)
    check_kept_and_told(yard, phone, "not a database")
    yard.restore(backup)
    check_goes_on(yard, phone)


def test_a_real_server_out_of_room_recovers_by_itself(phones, tmp_path):
    """A process whose files may not grow: the system itself says no, as a full disk does."""
    store, checklist = open_small_store(tmp_path / "yard.db")
    server = YardServer(Settings(database_url=store.url), tmp_path)
    token = Yard._join(store, DEVICES[0])
    store.close()
    phone, wire = make_phone(phones, token, checklist, 60, 3000), Wire(server.address)
    server.start()
    try:
        _soft, hard = resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (150_000, hard))
        assert exchange(phone, wire.ask) == ("sync.wait", 0, 60)
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (hard, hard))
        assert exchange(phone, wire.ask) == ("sync.sent", 60, 0)
    finally:
        wire.close()
        server.stop()
