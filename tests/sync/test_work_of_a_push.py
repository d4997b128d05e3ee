"""What a push and a rebuild do, counted exactly: each record is judged once, written in its
canonical form once, and the statements of a push do not grow with what is in it.

Times are in tests/bench/MEASURED.md; these numbers are the same on every machine.
"""

import json
import sys
import tracemalloc
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from qcapp.inspection.event import canonical, event_hash, freeze
from qcapp.inspection.judge import judge_answers
from qcapp.inspection.signature import fits
from qcapp.store.engine import Store
from qcapp.store.log import Entry, append
from qcapp.store.projections.stove_projection import rebuild
from qcapp.store.registry.checklists import _read_checklist
from qcapp.sync.push import parse_push, receive_push
from tests.builders import NOW, Yard, build_push, open_yard
from tests.signing_phones import introduce, sign_all

A_PUSH = 50
# Of a phone that was here before, whose stoves are new: reads of what the yard knows, of the phone
# and its key, of what is kept under these ids and numbers; the rows of the log, its tree and the
# figures; what the phone said of itself. Whoever makes it more says why.
STATEMENTS = 24


@pytest.fixture
def yard() -> Yard:
    yard = open_yard()
    introduce(yard.store, yard.phone.device_id, NOW)
    # The numbers of its checks, the phone's row of the day and 16 records of the tree are there.
    take_in(yard, [yard.phone.inspect(f"B1-9{n:02}") for n in range(20)])
    return yard


def take_in(yard: Yard, events: list[dict]) -> list[str]:
    """Outcomes of a signed push of the phone itself."""
    wish = build_push(events, signatures=sign_all(events), device={"id": yard.phone.device_id})
    pushed = parse_push(json.loads(json.dumps(wish)))
    answer = receive_push(yard.store, pushed, relayed_by=yard.phone.device_id, now=NOW)
    return [one.outcome for one in answer.results]


@contextmanager
def counting(monkeypatch: pytest.MonkeyPatch, *functions: Callable) -> Iterator[Counter]:
    """Calls by name, wherever in the program the functions were imported."""
    counts: Counter = Counter()

    def wrap(function: Callable) -> Callable:
        def call(*args, **kwargs):
            counts[function.__name__] += 1
            return function(*args, **kwargs)

        return call

    with monkeypatch.context() as patch:
        for function in functions:
            wrapped = wrap(function)
            for name, module in list(sys.modules.items()):
                if name.startswith("qcapp") and vars(module).get(function.__name__) is function:
                    patch.setattr(module, function.__name__, wrapped)
        yield counts


@contextmanager
def counting_statements(store: Store) -> Iterator[list[str]]:
    said: list[str] = []

    def note(_connection, _cursor, statement, *_rest) -> None:
        said.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield said
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


def make_events(yard: Yard, count: int) -> list[dict]:
    """Inspections of new stoves, one in five with a fault."""
    return [yard.phone.inspect(f"B1-{n:03}", **({} if n % 5 else FAULTY)) for n in range(count)]


FAULTY = {"width": "120", "disposition": "rework"}


def test_each_record_of_a_push_is_judged_written_and_checked_once(yard, monkeypatch):
    events = make_events(yard, A_PUSH)
    with counting(monkeypatch, judge_answers, freeze, canonical, event_hash, fits) as counts:
        assert set(take_in(yard, events)) == {"created"}
    assert counts == {"judge_answers": A_PUSH, "freeze": A_PUSH, "fits": A_PUSH}


def test_a_correction_and_a_second_visit_are_judged_once_beside_what_they_are_about(
    yard, monkeypatch
):
    first, other = yard.phone.inspect("B1-001", **FAULTY), yard.phone.inspect("B1-002")
    take_in(yard, [first, other])
    events = [
        yard.phone.inspect("B1-001", at="2026-11-25T08:00:00.000Z"),
        yard.phone.correct(other, other["body"]),
        yard.phone.inspect("B1-003"),
    ]
    with counting(monkeypatch, judge_answers, freeze) as counts:
        take_in(yard, events)
    # The first visit of B1-001 is judged again, with the other rows of its stove; what was
    # corrected counts no more.
    assert counts == {"judge_answers": len(events) + 1, "freeze": len(events)}


def test_a_repeated_push_is_judged_once_and_writes_no_row(yard, monkeypatch):
    events = make_events(yard, A_PUSH)
    take_in(yard, events)
    with (
        counting(monkeypatch, judge_answers, freeze) as counts,
        counting_statements(yard.store) as said,
    ):
        assert set(take_in(yard, events)) == {"duplicate"}
    assert counts == {"judge_answers": A_PUSH, "freeze": A_PUSH}
    assert not [one for one in said if one.startswith("INSERT")]


@pytest.mark.parametrize("records", [16, A_PUSH])
def test_statements_of_a_push_are_the_same_however_many_records(yard, records):
    events = make_events(yard, records)
    with counting_statements(yard.store) as said:
        take_in(yard, events)
    assert len(said) == STATEMENTS, "\n".join(said)


def test_a_push_reads_its_checklist_from_the_database_once_and_makes_it_once(yard):
    _read_checklist.cache_clear()
    events = make_events(yard, A_PUSH)
    with counting_statements(yard.store) as said:
        take_in(yard, events)
    assert len([one for one in said if "revision.compiled" in one]) == 1
    take_in(yard, [yard.phone.inspect("B1-777")])
    assert _read_checklist.cache_info().misses == 1


def test_a_rebuild_judges_each_inspection_once_by_as_many_statements(yard, monkeypatch):
    statements = []
    for count in (30, 90):
        take_in(yard, [yard.phone.inspect(f"B1-{count}{n:02}") for n in range(count)])
        with (
            yard.store.writing() as connection,
            counting(monkeypatch, judge_answers, freeze) as counts,
            counting_statements(yard.store) as said,
        ):
            stoves = rebuild(connection)
        assert counts == {"judge_answers": stoves}
        statements.append(len(said))
    assert statements[0] == statements[1]


def fill_log(yard: Yard, records: int) -> None:
    """Records of as many stoves straight into the log, without figures."""
    pattern = yard.phone.inspect("B1-PATTERN")
    raw = json.dumps(pattern)
    entries = [
        Entry(
            id=f"{n:08}",
            hash=f"{n:064}",
            state="counted",
            reason=None,
            kind="inspection",
            device_id="other",
            dev_seq=n,
            stove_key=f"finished/N{n:05}",
            batch="B1",
            raw=raw.replace(pattern["id"], f"{n:08}"),
        )
        for n in range(records)
    ]
    with yard.store.writing() as connection:
        append(connection, entries, received_at="", relayed_by=None, clock_offset_ms=None)


def find_peak(work: Callable[[], object]) -> int:
    """Most bytes held at once while it works, beside what was held before."""
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        work()
        return tracemalloc.get_traced_memory()[1] - before
    finally:
        tracemalloc.stop()


def measure_peaks(records: int) -> tuple[int, int]:
    """Of a rebuild, and of a push, over a log of so many records."""
    yard = open_yard()
    introduce(yard.store, yard.phone.device_id, NOW)
    fill_log(yard, records)

    def rebuild_all() -> None:
        with yard.store.writing() as connection:
            assert rebuild(connection) == records

    events = make_events(yard, A_PUSH)
    return find_peak(rebuild_all), find_peak(lambda: take_in(yard, events))


@pytest.mark.slow
def test_memory_of_a_rebuild_and_of_a_push_does_not_grow_with_the_log():
    few, many = measure_peaks(1000), measure_peaks(5000)
    # A rebuild holds 500 stoves at a time. What the collector has not yet taken varies.
    assert many[0] < 1.3 * few[0]
    assert many[1] < 1.3 * few[1]
