"""Hours of work: noted by the lead, shown to the trainer beside faults alone, to no buyer."""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.reports.hours import PieceCount, WorkHours, build_hours_rows
from qcapp.store import log
from tests.builders import make_cookie, open_client, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines
FORM = {
    "step": "cut-door-opening",
    "people": ["A01"],
    "hours": "1,5",
    "pieces": "6",
    "since": "2026-11-10",
    "until": "2026-11-12",
}


@pytest.fixture
def yard():
    return open_yard()


def note(yard, **change):
    return yard.client.post("/yard/hours", data=FORM | change, follow_redirects=False)


def inspect_some(yard):
    """On the three days A01 makes four stoves, one with two faults of which one is of the step;
    another day and another maker are not counted.
    """
    made = [
        ("B1-001", 10, "A01", {}),
        ("B1-002", 11, "A01", {"width": "106", "edge": "fail", "disposition": "rework"}),
        ("B1-003", 12, "A01", {}),
        ("B1-004", 12, "A01", {"edge": "fail", "disposition": "rework"}),
        ("B1-005", 13, "A01", {"width": "106", "disposition": "rework"}),
        ("B1-006", 11, "A02", {"width": "106", "disposition": "rework"}),
    ]
    yard.push(
        *(
            yard.phone.inspect(serial, maker=maker, at=f"2026-11-{day}T23:59:59.000Z", **more)
            for serial, day, maker, more in made
        )
    )


def test_hours_stand_beside_the_faults_of_the_same_people_work_and_days(yard):
    inspect_some(yard)
    assert note(yard).status_code == 303
    assert note(yard, step="", hours="9").status_code == 303
    page = text_of(yard.client.get("/trainer/hours"))
    assert "1.5 h for 6" in page and "0.25 h a piece" in page
    row = r"Cut the door opening Ano .* 1 fault on 4 stoves, 0.25 each Small stove: 1 of 4 with a"
    assert re.search(row, page)
    whole = r"Whole stove Ano .* 3 faults on 4 stoves, 0.75 each Small stove: 2 of 4 with a fault"
    assert re.search(whole, page)


def test_hours_without_an_inspected_piece_are_not_shown_to_the_trainer(yard):
    note(yard)
    page = text_of(yard.client.get("/trainer/hours"))
    assert " h for 6" not in page and "hours never stand alone here" in page
    # Who noted them sees the note, with what is missing beside it.
    assert "nothing of it was inspected on these days" in text_of(yard.client.get("/yard/hours"))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"hours": "0"}, "above nought"),
        ({"hours": "two"}, "above nought"),
        ({"pieces": "2.5"}, "whole number"),
        ({"pieces": "0"}, "whole number"),
        ({"people": []}, "tick who did the work"),
        ({"people": ["Z9"]}, "tick who did the work"),
        ({"step": "no-such-step"}, "choose a step from the list"),
        ({"until": "2026-11-09"}, "the last day is before the first"),
        ({"until": "2027-01-01"}, "the day is in the future"),
        ({"since": "31/12/2026"}, "choose a day"),
    ],
)
def test_what_cannot_be_is_refused_with_all_that_was_typed(yard, change, says):
    answer = note(yard, **change)
    assert answer.status_code == 400 and says in text_of(answer)
    if "pieces" not in change:
        assert 'name="pieces" type="text" value="6"' in answer.text
    with yard.store.reading() as connection:
        assert log.list_by_kind(connection, "work_hours") == []


def test_the_same_days_cannot_be_noted_twice_until_the_first_note_is_void(yard):
    note(yard)
    again = note(yard, since="2026-11-12", until="2026-11-14")
    assert again.status_code == 400 and "already" in text_of(again)
    assert note(yard, since="2026-11-13", until="2026-11-14").status_code == 303
    assert note(yard, people=["A02"]).status_code == 303
    first = re.search(r"/yard/hours/([0-9a-f-]+)/void", yard.client.get("/yard/hours").text)
    assert yard.client.post(first.group(0), follow_redirects=False).status_code == 303
    assert first.group(1) not in yard.client.get("/yard/hours").text
    assert yard.client.post("/yard/hours/none/void").status_code == 404


def test_trainer_reads_but_does_not_note_and_nobody_else_reads(yard):
    inspect_some(yard)
    note(yard)
    trainer = open_client(
        yard.client.app, cookie=make_cookie(yard.store, code="T1", role="trainer")
    )
    assert " h for 6" in text_of(trainer.get("/trainer/hours"))
    assert trainer.get("/yard/hours").status_code == 403
    assert trainer.post("/yard/hours", data=FORM).status_code == 403
    stranger = open_client(yard.client.app)
    for address in ("/trainer/hours", "/yard/hours"):
        answer = stranger.get(address, follow_redirects=False)
        assert answer.status_code in (303, 401, 403) and " h for" not in answer.text


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50), st.integers(0, 90)), max_size=4))
def test_no_row_has_hours_to_show_without_a_count(counts):
    """Property of the report: whatever is counted, a row is found only with pieces inspected."""
    one = WorkHours("n", None, ("A1",), Decimal("7.5"), 3, "2026-11-01", "2026-11-02")
    given_counts = [
        PieceCount(f"c{n}", of, min(bad, of), faults) for n, (of, bad, faults) in enumerate(counts)
    ]
    (row,) = build_hours_rows([one], {"n": given_counts}, {}, {})
    assert one.per_piece == Decimal("2.5")
    assert [found.rate.inspected for found in row.found] == [of for of, *_ in counts if of]
    assert all(found.rate.rate is not None for found in row.found)
