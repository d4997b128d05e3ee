"""Studies: blind orders that follow from the seed, which answer counts, who is looked at twice."""

import itertools
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from qcapp.inspection.study import (
    SECOND_LOOK_ONE_IN,
    Study,
    is_looked_at_twice,
    order_looks,
    read_studies,
    read_study_answers,
)


def study(stoves=("S1", "S2", "S3", "S4", "S5"), repeats=3, seed="seed"):
    return Study(
        "id",
        "t",
        "2026-11-01T00:00:00.000Z",
        "0" * 64,
        "B1",
        tuple(stoves),
        ("I01", "I02"),
        repeats,
        ("width",),
        seed,
        True,
    )


@given(
    stoves=st.lists(st.text("abc123", min_size=1), min_size=2, max_size=12, unique=True),
    repeats=st.integers(1, 4),
    seed=st.text(max_size=5),
)
def test_every_stove_is_looked_at_as_often_and_never_twice_in_a_row(stoves, repeats, seed):
    order = order_looks(study(stoves, repeats, seed), "I01")
    assert Counter(order) == {(stove, n): 1 for stove in stoves for n in range(1, repeats + 1)}
    assert [n for _stove, n in order] == sorted(n for _stove, n in order)
    assert all(before[0] != after[0] for before, after in itertools.pairwise(order))


def test_order_is_the_same_again_and_another_for_the_next_inspector():
    assert order_looks(study(), "I01") == order_looks(study(), "I01")
    many = study([f"S{n}" for n in range(20)])
    assert order_looks(many, "I01") != order_looks(many, "I02")


def test_first_answer_of_a_look_counts_and_a_closed_study_is_closed():
    body = {"study": "id", "stove": "S1", "repeat": 1}
    events = [
        {
            "inspector": "I01",
            "captured_at": str(n),
            "body": {**body, "answers": {"width": {"values": [str(n)]}}},
        }
        for n in (1, 2)
    ]
    (answer,) = read_study_answers(events)
    assert answer.answers == {"width": {"values": ["1"]}}
    plan = {
        "title": "t",
        "checklist_hash": "0" * 64,
        "batch": "B1",
        "stoves": ["a"],
        "inspectors": ["I01", "I02"],
        "repeats": 1,
        "checks": ["w"],
        "seed": "s",
    }
    opened = {"id": "x", "captured_at": "t", "body": plan}
    assert [s.is_open for s in read_studies([opened])] == [True]
    assert [s.is_open for s in read_studies([opened, {"id": "y", "body": {"closes": "x"}}])] == [
        False
    ]


def test_about_one_stove_in_twenty_is_drawn_and_always_the_same_ones():
    drawn = [n for n in range(4000) if is_looked_at_twice("server", f"finished/S{n}")]
    assert 150 <= len(drawn) <= 250 and SECOND_LOOK_ONE_IN == 20
    assert drawn != [n for n in range(4000) if is_looked_at_twice("other", f"finished/S{n}")]
