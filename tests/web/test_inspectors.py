"""The page about inspectors, and the notes on pages that compare artisans: from pushed records."""

import pytest

from qcapp.store.registry.people import save_people
from tests.builders import SECOND_INSPECTOR, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines


def build_yard(*, second_sees_more=True, is_even=True):
    """Ano's stoves and Beda's by two inspectors; I02 fails one in three where I01 fails one in
    ten.
    """
    yard = open_yard()
    with yard.store.writing() as connection:
        save_people(connection, [SECOND_INSPECTOR])
    events = []
    for n in range(160):
        maker = ("A01", "A02")[n % 2]
        is_second = (n // 2) % 2 if is_even else (n % 2 if n % 10 > 1 else 1 - n % 2)
        has_failed = (n // 4) % (3 if is_second and second_sees_more else 10) == 0
        events.append(
            yard.phone.inspect(
                f"B1-{n:03}",
                maker=maker,
                width="106" if has_failed else "100",
                disposition="rework" if has_failed else "release",
                at=f"2026-10-{1 + n // 8:02}T{8 + n % 8:02}:00:00.000Z",
                inspector=("I01", "I02")[is_second],
            )
        )
    yard.push(*events[:80])
    yard.push(*events[80:])
    return yard


def test_page_compares_inspectors_on_the_same_work():
    yard = build_yard()
    page = text_of(yard.client.get("/trainer/inspectors"))
    assert "Inspectors differ" in page and "finds more than the others" in page
    assert "Ciro" in page and "Dodo" in page and "Ano" in page and " of 80" in page
    assert "There is no second look yet" in page
    same = text_of(build_yard(second_sees_more=False).client.get("/trainer/inspectors"))
    assert "Inspectors differ" not in same and "not shown to differ" in same


@pytest.mark.parametrize("address", ["/trainer", "/trainer/steps", "/trainer/artisans/A01"])
def test_pages_that_compare_artisans_say_when_their_inspectors_differ(address):
    uneven = text_of(build_yard(is_even=False).client.get(address))
    assert "not inspected by the same people" in uneven and "stoves of Ano" in uneven
    assert "Ciro inspected 64 of 80 stoves of Ano and 16 of 80 of the others" in uneven
    even = text_of(build_yard().client.get(address))
    assert "not inspected by the same people" not in even


def test_nothing_inspected_and_filters_without_stoves_say_so():
    yard = open_yard()
    assert "shows no inspection" in text_of(yard.client.get("/trainer/inspectors"))
    page = text_of(build_yard().client.get("/trainer/inspectors?batch=B0"))
    assert "shows no inspection" in page


def test_second_looks_say_what_is_missed_and_correct_the_rates():
    yard = build_yard()
    given = [
        {"sharp-edge": {"mark": "fail" if n % 3 == 0 else "pass"}, "dents": {"mark": "pass"}}
        for n in range(60)
    ]
    events = [
        yard.phone.seal(
            "study_answer",
            None,
            {
                "study": "second-look",
                "stove": f"finished/B1-{n:03}",
                "repeat": 1,
                "answers": answers,
            },
            inspector="I02" if (n // 2) % 2 == 0 else "I01",
            batch=None,
            stage=None,
            checklist=None,
            checklist_hash=None,
        )
        for n, answers in enumerate(given)
    ]
    yard.push(*events)
    page = text_of(yard.client.get("/trainer/inspectors"))
    assert "At 60 pieces another inspector looked again" in page
    assert "the first look had passed 20 of the 20 steps that the second failed" in page
    # Everything the second looks found was missed: then a first look says nothing.
    assert "not known" in page or "too few second looks" in page
    pace = text_of(yard.client.get("/yard/pace"))
    assert (
        "the first look had passed 20 of the 20 steps" in pace
        and "What this does to the rates" in pace
    )
