"""Disk full, read-only, damaged: a clear answer, the phone keeps its work,
and it goes on by itself.
"""

import json
import resource
import sqlite3

import pytest
from sqlalchemy import event

from qcapp.settings import Settings
from tests.builders import open_small_store
from tests.e2e.server import YardServer
from tests.sync.twin.call import Call
from tests.sync.twin.exchange import Tab
from tests.sync.twin.memory import Memory
from tests.sync.twin.records import build_records
from tests.sync.twin.wire import Wire, run_talk
from tests.sync.twin.yard import DEVICES, Yard

pytestmark = pytest.mark.slow


@pytest.fixture
def yard(tmp_path):
    made = Yard(tmp_path)
    yield made
    made.close()


@pytest.fixture
def phone(yard):
    """A tab with ten records that wait."""
    bits = iter(range(1000))
    memory = Memory(
        lambda: yard.now_ms,
        lambda: next(bits),
        meta={"device_id": DEVICES[0], "dev_seq": 0, "token": yard.tokens[DEVICES[0]]},
    )
    records = build_records(yard.checklist)
    for stove in range(10):
        memory.record(**records.inspect("good", f"S{stove}"), padding="x" * 4000)
    return Tab(memory, lambda: f"request-{next(bits)}")


def check_kept_and_told(yard: Yard, phone: Tab, words: str) -> None:
    """The phone has all its work, and the answer says what is wrong, where and what to do."""
    done = run_talk(phone.exchange(), yard.ask)
    assert done == {"status": "wait", "sent": 0, "left": 10}
    wish = {
        "protocol": 1,
        "request_id": "r",
        "events": [row["event"] for row in phone.memory.list_unsent()],
    }
    answer = yard.ask(Call("POST", "/api/sync/push", phone.memory.meta["token"], json=wish))
    error = json.loads(answer.text)["error"]
    assert answer.status == 503 and int(answer.headers["retry-after"]) > 0
    assert words in error["what"] and error["where"] == "yard.db" and error["todo"]
    assert str(yard.folder) not in answer.text


def check_goes_on(yard: Yard, phone: Tab) -> None:
    assert run_talk(phone.exchange(), yard.ask) == {"status": "ok", "sent": 10, "left": 0}
    assert len(yard.read_log()) == 10


@pytest.mark.parametrize(
    ("pragma", "words"), [("max_page_count=1", "no room"), ("query_only=ON", "cannot be written")]
)
def test_a_full_or_read_only_database_takes_nothing_and_loses_nothing(yard, phone, pragma, words):
    """SQLite's own limits stand for the disk's: the errors are the same,
    and any machine can have them.
    """

    def limit(raw, _record):
        # A smaller number than there are pages means: no page more.
        raw.execute(f"PRAGMA {pragma}")

    event.listen(yard.store.engine, "connect", limit)
    check_kept_and_told(yard, phone, words)
    event.remove(yard.store.engine, "connect", limit)
    check_goes_on(yard, phone)


def test_a_locked_database_says_come_again(yard, phone):
    other = sqlite3.connect(yard.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")

    def impatient(raw, _record):
        raw.execute("PRAGMA busy_timeout=10")

    event.listen(yard.store.engine, "connect", impatient)
    check_kept_and_told(yard, phone, "busy")
    other.execute("ROLLBACK")
    other.close()
    check_goes_on(yard, phone)


def test_a_damaged_database_says_restore_and_the_phone_heals_the_backup(yard, phone):
    backup = yard.backup()
    yard.path.write_bytes(b"no database at all" * 1000)
    check_kept_and_told(yard, phone, "no database")
    yard.restore(backup)
    check_goes_on(yard, phone)


def test_a_real_server_out_of_room_recovers_by_itself(tmp_path):
    """A process whose files may not grow: the system itself says no, as a full disk does."""
    store, checklist = open_small_store(tmp_path / "yard.db")
    server = YardServer(Settings(database_url=store.url), tmp_path)
    token = Yard._join(store, DEVICES[0])
    store.close()
    bits = iter(range(1000))
    memory = Memory(
        lambda: 1_790_000_000_000,
        lambda: next(bits),
        meta={"device_id": DEVICES[0], "dev_seq": 0, "token": token},
    )
    for stove in range(60):
        memory.record(**build_records(checklist).inspect("good", f"S{stove}"), padding="x" * 3000)
    tab, wire = Tab(memory, lambda: f"request-{next(bits)}"), Wire(server.address)
    server.start()
    try:
        _soft, hard = resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (150_000, hard))
        assert run_talk(tab.exchange(), wire.ask)["status"] == "wait"
        assert memory.count_unsent() == 60
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (hard, hard))
        assert run_talk(tab.exchange(), wire.ask)["status"] == "ok"
        assert memory.count_unsent() == 0
    finally:
        wire.close()
        server.stop()
