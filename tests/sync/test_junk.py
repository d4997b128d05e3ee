"""Whatever comes in as an event is kept and harms nobody:
neither its batch nor the pulls of others.
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from qcapp.store.tables import STOVE
from tests.builders import build_small_checklist, open_yard
from tests.odd_values import replace_at, walk_places

pytestmark = pytest.mark.both_engines

OTHER = "0197f000-0000-7000-8000-0000000000bb"
JUNK = {
    "no number": "[NaN]",
    "endless number": '{"a": 1e999}',
    "fraction": '{"a": 1.5}',
    "minus zero": '{"a": -0}',
    "half character as id": r'{"id": "\ud800"}',
    "half character as key": r'{"\udc00": 1}',
    "half character in the stove": r'{"stage": "finished", "stove": "\ud800"}',
    "half character in a check": r'{"kind": "inspection", "body": {"answers": {"\ud800": 5}}}',
    "great number": '{"dev_seq": 1' + "0" * 400 + "}",
    "NUL": r'{"id": "a\u0000b", "device_id": "\u0000"}',
    "deep list": "[" * 300 + "]" * 300,
    "deeper list": "[" * 800 + "]" * 800,
    "deep object": '{"a":' * 300 + "1" + "}" * 300,
    "one key twice": '{"id": "a", "id": "b"}',
}


@pytest.fixture(scope="module")
def yard():
    return open_yard()


@pytest.fixture(scope="module")
def other(yard):
    return yard.pair(OTHER)


def push_text(yard, *events: str, **more: str):
    fields = {
        "protocol": "1",
        "request_id": '"r"',
        "device": '{"id": "x"}',
        "events": f"[{','.join(events)}]",
        **more,
    }
    body = "{" + ",".join(f'"{name}": {text}' for name, text in fields.items()) + "}"
    return yard.client.post(
        "/api/sync/push", content=body.encode("utf-8", "surrogatepass"), headers=yard.headers
    )


def pull_all(yard, headers) -> list:
    answer = yard.client.get("/api/sync/pull", params={"limit": 200}, headers=headers)
    assert answer.status_code == 200, answer.text
    return json.loads(answer.text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))[
        "events"
    ]


@pytest.mark.parametrize("name", JUNK)
def test_junk_is_kept_and_the_others_pull_on(yard, other, name):
    good = yard.phone.inspect("B1-001")
    answer = push_text(yard, JUNK[name], json.dumps(good))
    assert answer.status_code == 200, answer.text
    assert [result["outcome"] for result in answer.json()["results"]] == ["quarantined", "created"]
    again = push_text(yard, JUNK[name])
    assert again.json()["results"] == answer.json()["results"][:1]
    # Sent by a device that nobody knows, so that it comes back to both phones.
    assert any(
        "unreadable" in str(row["event"]) or row["state"] == "quarantined"
        for row in pull_all(yard, other)
    )


# A value of each type, and of each size, in the place of any field.
ANY_VALUE = [None, True, 2**60, 1.5, "", "x" * 500, "a\0b", "\ud800", [], ["x"], {"\ud800": 1}]


def is_later(step):
    return isinstance(step, int) and step > 0


@pytest.mark.parametrize("of", ["events", "definitions", "drawings"])
def test_odd_value_anywhere_in_what_comes_keeps_no_record_out(of):
    yard = open_yard()
    checklist = build_small_checklist(2)
    drawing = {"checklist": checklist.hash, "name": "round-stove.svg", "svg": "<svg/>"}
    yard.push(definitions=[checklist.compiled()])
    true = {
        "events": yard.phone.inspect("B1-002"),
        "definitions": checklist.compiled(),
        "drawings": drawing,
    }[of]
    # Of like things the first: the others have the same fields.
    places = [place for place in walk_places(true) if not any(map(is_later, place))]
    odd = [json.dumps(replace_at(true, place, new)) for place in places for new in ANY_VALUE]
    for few in (odd[at : at + 20] for at in range(0, len(odd), 20)):
        good = json.dumps(yard.phone.inspect("B1-001"))
        more = {} if of == "events" else {of: f"[{','.join(few)}]"}
        answer = push_text(yard, *(few if of == "events" else ()), good, **more)
        assert answer.status_code == 200, (answer.text, few)
        assert answer.json()["results"][-1]["outcome"] == "created"


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters(codec=None), max_size=8),
    lambda inside: (
        st.lists(inside, max_size=3)
        | st.dictionaries(st.text(st.characters(codec=None), max_size=8), inside, max_size=3)
    ),
    max_leaves=12,
)


@pytest.mark.slow
@pytest.mark.sqlite_only
@given(
    change=st.dictionaries(
        st.sampled_from(
            (
                "id",
                "kind",
                "device_id",
                "dev_seq",
                "stove",
                "stage",
                "batch",
                "body",
                "photos",
                "captured_at",
                "corrects",
                "hash",
                "new",
            )
        ),
        anything,
        min_size=1,
        max_size=3,
    )
)
def test_an_event_with_anything_in_it_harms_nobody(change):
    yard = FUZZED
    good = yard.phone.inspect("B1-002")
    answer = push_text(
        yard, json.dumps({**yard.phone.inspect("B1-003"), **change}), json.dumps(good)
    )
    assert answer.status_code == 200, answer.text
    assert answer.json()["results"][1]["outcome"] == "created"
    with yard.store.writing() as connection:
        count = connection.exec_driver_sql("SELECT count(*) FROM log").scalar()
        for (raw,) in connection.exec_driver_sql("SELECT raw FROM log"):
            json.loads(raw).get("id")
        assert count > 0
        connection.exec_driver_sql("DELETE FROM log WHERE seq < (SELECT max(seq) - 20 FROM log)")


FUZZED = open_yard()


@pytest.mark.parametrize(
    "note",
    [
        "null",
        "5",
        '{"created": 1e30}',
        '{"created": 1' + "0" * 30 + "}",
        '{"created": -5}',
        '{"clock": 5}',
        '{"clock": "yesterday"}',
        '{"clock": "0001-01-01T00:00:00+23:59"}',
        r'{"app_build": "\ud800"}',
        '{"app_build": "' + "x" * 5000 + '"}',
    ],
)
def test_what_a_phone_says_of_itself_never_keeps_its_work_out(yard, note):
    answer = push_text(yard, json.dumps(yard.phone.inspect("B1-004")), device=note)
    assert answer.status_code == 200, answer.text
    assert answer.json()["results"][0]["outcome"] == "created"


@pytest.mark.parametrize(
    "more", [{"request_id": r'"\ud800"'}, {"have": '{"seq": 1' + "0" * 30 + ', "chain": "x"}'}]
)
def test_an_envelope_that_no_phone_makes_gets_a_clear_error(yard, more):
    answer = push_text(yard, **more)
    assert answer.status_code == 400
    assert answer.json()["error"]["todo"]


def test_a_name_with_unusual_characters_counts_all_the_same(yard):
    """A joiner between letters is no printable character, and some scripts need it."""
    stove = "B1-क्\u200dष"
    assert (
        push_text(yard, json.dumps(yard.phone.inspect(stove))).json()["results"][0]["outcome"]
        == "created"
    )
    with yard.store.reading() as connection:
        assert (
            connection.execute(select(STOVE.c.serial).where(STOVE.c.serial == stove)).scalar()
            == stove
        )


@pytest.mark.parametrize("name", ["a\0b", "\ud800", "", "..", "x" * 64, 7, None])
def test_odd_name_of_the_phone_that_sends_keeps_no_record_out(yard, name):
    good = yard.phone.inspect("B1-001")
    answer = push_text(yard, json.dumps(good), device=json.dumps({"id": name}))
    assert answer.status_code == 200, answer.text
    assert [one["outcome"] for one in answer.json()["results"]] == ["created"]
