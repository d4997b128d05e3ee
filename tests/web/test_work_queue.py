"""The start page of the yard lead: what waits, in the order of its urgency."""

import re
from datetime import timedelta

import pytest
from sqlalchemy import event, insert, select, update

from qcapp.store.registry import batches
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.yard_facts import save_yard_facts
from qcapp.store.tables import DEVICE, STOVE
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.work_queue import load_work
from tests.builders import BATCHES, NOW, open_yard
from tests.page_text import text_of


@pytest.fixture
def yard(tmp_path):
    """One that is set up: else the next step of that waits too."""
    found = open_yard(tmp_path)
    with found.store.writing() as connection:
        save_yard_facts(connection, is_ended=True)
    return found


def read_queue(yard, backups=None):
    """[(sentence, days, address)]."""
    work = load_work(yard.store, now=NOW, backups=backups)
    return [(str(item.text), days, item.href) for item, days in work]


def test_nothing_to_do_is_said(yard):
    assert read_queue(yard) == []
    page = text_of(yard.client.get("/"))
    assert "Nothing waits for you" in page and "no buyer waits for a reply" in page


def test_held_stoves_stand_with_their_age_and_the_place_to_decide(yard):
    old = "2026-11-20T08:00:00.000Z"
    yard.push(
        yard.phone.inspect("B1-001", disposition="hold", at=old),
        yard.phone.inspect("B1-002", disposition="hold"),
        yard.phone.inspect("B1-003", width="120", disposition="rework"),
    )
    assert read_queue(yard) == [("B1: 2 stoves held", 5, "/batches/B1#held")]
    page = yard.client.get("/")
    assert "1 thing waits for you" in text_of(page) and 'href="/batches/B1#held"' in page.text
    assert 'id="held"' in yard.client.get("/batches/B1").text


def test_liners_and_kiln_loads_are_not_called_stoves(yard):
    yard.push(yard.phone.inspect("B1-001", disposition="hold"))
    with yard.store.writing() as connection:
        load = {"stove_key": "firing/B1-K1", "stage": "firing", "serial": "B1-K1"}
        row = dict(connection.execute(select(STOVE)).one()._mapping)
        connection.execute(insert(STOVE), [{**row, "no": row["no"] + 1, **load}])
    texts = sorted(text for text, _days, _href in read_queue(yard))
    assert texts == ["B1: 1 kiln load held", "B1: 1 stove held"]


def test_rework_waits_for_the_inspector_until_it_is_late(yard):
    for days, found in ((6, []), (8, [("B1: 1 stove waiting for rework", 8)])):
        at = format_timestamp(NOW - timedelta(days=days))
        serial = f"B1-{days:03}"
        yard.push(yard.phone.inspect(serial, width="120", disposition="rework", at=at))
        assert [one[:2] for one in read_queue(yard)] == [
            (text.replace("1 stove waiting", "2 stoves waiting"), age) for text, age in found
        ]


def test_what_is_more_urgent_stands_first(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 21)))
    assert read_queue(yard) == [
        ("B1: every stove is inspected, none waits", None, "/batches/B1/issue")
    ]
    yard.client.post("/batches/B1/summaries")
    assert read_queue(yard) == [], "it has a summary"
    page = yard.client.post("/batches/B1/links", data={"label": "Buyer"})
    token = page.text.split('class="address">')[1].split("<")[0].rsplit("/", 1)[1]
    said = {"number": 1, "by": "Buyer", "note": "why?"}
    for answer in ("question", "reject", "accept"):
        yard.client.post(f"/s/{token}/answer", data={**said, "answer": answer})
    yard.client.post(f"/s/{token}/recheck", data={**said, "n": 5, "failed": 1})
    yard.push(
        yard.phone.inspect("B1-001", disposition="hold", at="2026-11-24T20:00:00.000Z"),
        yard.phone.inspect("B1-030", maker="A99"),
    )
    with yard.store.writing() as connection:
        long_ago = {"last_seen_at": format_timestamp(NOW - timedelta(days=9)), "unsent": 3}
        connection.execute(update(DEVICE).values(long_ago))
    assert [one[0] for one in read_queue(yard)] == [
        "B1: the buyer refuses the batch",
        "B1: the buyer has a question",
        "B1: the buyer checked stoves again",
        "1 record is held back",
        "B1: 1 stove held",
        f"{name_of_phone(yard)} has been silent, with 3 records to send",
    ]


def name_of_phone(yard):
    with yard.store.reading() as connection:
        return connection.execute(DEVICE.select()).first().name


@pytest.mark.parametrize(
    ("days", "unsent", "is_told"), [(1, 3, False), (3, 3, True), (3, 0, False), (8, 0, True)]
)
def test_a_phone_is_silent_sooner_when_it_had_something_to_send(yard, days, unsent, is_told):
    with yard.store.writing() as connection:
        seen = {"last_seen_at": format_timestamp(NOW - timedelta(days=days)), "unsent": unsent}
        connection.execute(update(DEVICE).values(seen))
    assert bool(read_queue(yard)) is is_told


def test_two_stoves_that_name_one_liner_are_told(yard):
    def built_of(serial, liner):
        plain = yard.phone.inspect(serial)["body"]
        return yard.phone.seal("inspection", serial, {**plain, "made_from": {"fired-liner": liner}})

    yard.push(built_of("B1-001", "B1-L01"), built_of("B1-002", "B1-L02"))
    assert read_queue(yard) == []
    yard.push(built_of("B1-003", "b1 l02"))
    ((text, _days, place),) = read_queue(yard)
    assert text == "These stoves name one and the same piece: B1-002, B1-003"
    assert "cannot all be true" in text_of(yard.client.get(place))


def test_only_the_lead_is_told(yard):
    yard.push(yard.phone.inspect("B1-001", disposition="hold"))
    anyone = yard.client.get("/", headers={"Cookie": ""})
    assert "waits for you" not in text_of(anyone)


def test_statements_do_not_grow_with_the_yard(tmp_path):
    def count(stoves, more_batches):
        yard = open_yard(tmp_path)
        with yard.store.writing() as connection:
            named = [{**BATCHES[0], "code": f"C{n}", "planned": 1} for n in range(more_batches)]
            save_batches(connection, named)
        yard.push(
            *(yard.phone.inspect(f"B1-{n:03}", disposition="hold") for n in range(stoves)),
            *(yard.phone.inspect(f"C{n}-001", batch=f"C{n}") for n in range(more_batches)),
        )
        statements = []
        listen = (yard.store.engine, "before_cursor_execute")
        event.listen(*listen, lambda *given: statements.append(given[2]))
        page = yard.client.get("/")
        assert "things wait for you" in text_of(page) or "thing waits for you" in text_of(page)
        assert len(re.findall(r"every stove is inspected", text_of(page))) == more_batches
        return len(statements)

    count(1, 1)
    assert count(2, 2) == count(40, 20) < 30


def test_batches_closed_long_ago_are_left_alone(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 21)))
    for days, told in ((3, 1), (40, 0)):
        with yard.store.writing() as connection:
            batch = batches.get_batch(connection, "B1")
            closed = format_timestamp(NOW - timedelta(days=days))
            save_batches(connection, [{**batch, "closed_at": closed}])
        assert len(read_queue(yard)) == told


def test_a_long_list_tells_those_that_wait_longest_and_how_many_more(yard):
    with yard.store.writing() as connection:
        save_batches(connection, [{**BATCHES[0], "code": f"C{n:02}"} for n in range(25)])
    yard.push(
        *(
            yard.phone.inspect(
                f"C{n:02}-1",
                batch=f"C{n:02}",
                disposition="hold",
                at=format_timestamp(NOW - timedelta(days=n)),
            )
            for n in range(25)
        )
    )
    found = [one[0] for one in read_queue(yard)]
    assert found[0] == "C24: 1 stove held" and len(found) == 21
    assert "Pieces wait at 5 more places" in found
