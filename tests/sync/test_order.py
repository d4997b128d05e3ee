"""Two writers and a reader at once: a reader's cursor never jumps over a row."""

import threading

import pytest

from qcapp.sync.protocol import PushRequest
from qcapp.sync.pull import pull_events
from qcapp.sync.push import receive_push
from tests.builders import NOW, Phone, build_push, open_small_store

pytestmark = pytest.mark.both_engines

WRITERS = ("0197f000-0000-7000-8000-0000000000a1", "0197f000-0000-7000-8000-0000000000a2")
READER = "0197f000-0000-7000-8000-0000000000bb"
PUSHES = 12


@pytest.fixture
def store(tmp_path):
    store, checklist = open_small_store(tmp_path / "yard.db")
    yield store, checklist
    store.close()


def write(store, checklist, device: str, sent: list, errors: list) -> None:
    phone = Phone(checklist, device_id=device)
    try:
        for number in range(PUSHES):
            events = [
                phone.inspect(f"{device[-2:]}-{number}"),
                phone.inspect(f"{device[-2:]}-{number}", dents="fail", disposition="rework"),
            ]
            answer = receive_push(
                store, PushRequest.model_validate(build_push(events)), relayed_by=device, now=NOW
            )
            assert [result.outcome for result in answer.results] == ["created", "created"]
            sent += [event["id"] for event in events]
    except BaseException as error:  # noqa: BLE001  (of another thread; the test shows it)
        errors.append(error)


def read_until(store, is_over, page: int) -> tuple[list[int], list[str]]:
    """Pulls on and on as a phone does; once more after the writers have ended."""
    cursor, numbers, ids = "", [], []
    while True:
        was_over = is_over()
        answer = pull_events(store, device_id=READER, cursor=cursor, limit=page)
        assert answer.lineage == "ok"
        numbers += [row.seq for row in answer.events]
        ids += [row.event["id"] for row in answer.events]
        cursor = answer.cursor
        if was_over and not answer.more:
            return numbers, ids


@pytest.mark.parametrize("page", [1, 7])
def test_a_cursor_never_skips_a_row_while_two_write(store, page):
    store, checklist = store
    sent, errors = [], []
    writers = [
        threading.Thread(target=write, args=(store, checklist, device, sent, errors))
        for device in WRITERS
    ]
    for writer in writers:
        writer.start()
    numbers, ids = read_until(store, lambda: not any(writer.is_alive() for writer in writers), page)
    assert not errors
    assert numbers == list(range(1, 2 * 2 * PUSHES + 1))
    assert sorted(ids) == sorted(sent)


def test_a_reader_sees_only_whole_pushes(store):
    """Numbers of one push appear together,
    so no page ends before a row that is still being written.
    """
    store, _checklist = store
    with store.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO log (seq, id, hash, chain, state, kind, device_id, dev_seq, received_at,"
            " raw) VALUES (1, 'x', 'x', 'x', 'counted', 'x', 'x', 1, 'x', '{}')"
        )
        during = pull_events(store, device_id=READER, cursor="", limit=200)
    assert during.events == [] and during.head.seq == 0
    assert len(pull_events(store, device_id=READER, cursor=during.cursor, limit=200).events) == 1
