"""Deciding about quarantined records: decisions are events, the latest stands,
nothing is rewritten.
"""

import json

import pytest

from qcapp.errors import BadInput, Clash, NotFound
from qcapp.store import log
from qcapp.store.projections import stove_projection
from qcapp.store.registry.people import save_people
from qcapp.store.upkeep.audit import audit_store
from qcapp.sync.quarantine import get_record, list_records
from qcapp.sync.quarantine_decisions import accept, reject
from tests.builders import NOW, Phone, open_yard
from tests.store.test_projections import dump, stove_row
from tests.sync.test_pull import OTHER, pull

WHO = {"reason": "asked Ciro", "by": "Lead", "now": NOW}


@pytest.fixture
def yard():
    return open_yard()


def list_waiting(yard):
    with yard.store.reading() as connection:
        return [record.seq for record in list_records(connection) if record.decision is None]


def find_decision(yard, seq):
    with yard.store.reading() as connection:
        found = get_record(connection, seq).decision
    return found.id if found else ""


def let_count(yard, seq, mapping=None, **more):
    accept(
        yard.store, seq, mapping=mapping or {}, **{**WHO, "seen": find_decision(yard, seq), **more}
    )


def reject_record(yard, seq, **more):
    reject(yard.store, seq, **{**WHO, "seen": find_decision(yard, seq), **more})


def count_rows(yard):
    with yard.store.reading() as connection:
        return log.get_head(connection).seq


@pytest.mark.parametrize(
    ("inspect", "mapping"),
    [
        ({"maker": "A77"}, {"artisan": {"A77": "A02"}}),
        ({"inspector": "I99"}, {"inspector": {"I99": "I01"}}),
        ({"batch": "B9"}, {"batch": {"B9": "B1"}}),
        (
            {"maker": "A77", "inspector": "I99", "batch": "B9"},
            {"artisan": {"A77": "A01"}, "inspector": {"I99": "I01"}, "batch": {"B9": "B1"}},
        ),
    ],
)
def test_accepted_record_counts_under_the_mapped_names(yard, inspect, mapping):
    yard.push(yard.phone.inspect("B1-001", width="120", disposition="rework", **inspect))
    assert dump(yard.store) == ([], [], [], [])
    let_count(yard, 1, mapping)
    row = stove_row(yard.store, "finished/B1-1")
    assert (row.batch, row.disposition, row.has_first_pass_fail) == ("B1", "rework", True)
    _stoves, (inspection,), results, _tallies = dump(yard.store)
    assert inspection.inspector == "I01" and {result.artisan for result in results} <= {
        "A01",
        "A02",
    }
    assert list_waiting(yard) == []


def test_record_stays_as_it_came_and_the_decision_is_an_event_with_who_and_why(yard):
    event = yard.phone.inspect("B1-001", maker="A77")
    yard.push(event)
    let_count(yard, 1, {"artisan": {"A77": "A02"}})
    with yard.store.reading() as connection:
        record, decision = (json.loads(row.raw) for row in log.list_after(connection, 0, 10))
        assert log.find_record(connection, 1).state == "quarantined"
        assert log.find_broken_link(connection) is None
    assert record == event
    assert (
        decision["kind"] == "quarantine_decision"
        and decision["corrects"] == event["id"]
        and decision["device_id"] == "server"
    )
    body = decision["body"]
    assert (body["action"], body["reason"], body["by"]) == ("accept", "asked Ciro", "Lead")
    assert body["mapping"] == {"artisan": {"A77": "A02"}} and body["original_hash"] == event["hash"]
    assert body["event"]["id"] == event["id"] and set(body["event"]["body"]["crew"].values()) == {
        "A02"
    }


@pytest.mark.parametrize(
    ("inspect", "mapping", "says"),
    [
        ({"maker": "A77"}, {}, "unknown artisan: A77"),
        ({"maker": "A77", "batch": "B9"}, {"artisan": {"A77": "A01"}}, "unknown batch: B9"),
        ({"batch": "B9"}, {"batch": {"B9": "B0"}}, "batch closed: B0"),
        ({"batch": "B9"}, {"batch": {"B9": "B5"}}, "B9 cannot be changed to B5"),
        ({"maker": "A77"}, {"artisan": {"A77": "A55"}}, "A77 cannot be changed to A55"),
        ({"maker": "A77"}, {"artisan": {"A01": "A02"}}, "A01 cannot be changed to A02"),
        ({"maker": "A77"}, {"stove": {"B1-001": "B1-002"}}, "B1-001 cannot be changed to"),
        ({"width": "4000"}, {}, "impossible value"),
        ({"width": "120", "disposition": "release"}, {}, "disposition"),
        ({"checklist_hash": "0" * 64}, {}, "unknown checklist"),
    ],
)
def test_what_would_still_not_count_is_refused_and_changes_nothing(yard, inspect, mapping, says):
    yard.push(yard.phone.inspect("B1-001", **inspect))
    before = count_rows(yard), dump(yard.store)
    with pytest.raises(BadInput) as caught:
        let_count(yard, 1, mapping)
    assert says in str(caught.value) and (count_rows(yard), dump(yard.store)) == before
    assert list_waiting(yard) == [1]


def test_record_counts_without_mapping_once_the_yard_knows_the_name(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    with yard.store.writing() as connection:
        save_people(
            connection,
            [
                {
                    "code": "A77",
                    "name": "New",
                    "trades": ["metalwork"],
                    "started_on": None,
                    "is_inspector": False,
                }
            ],
        )
    let_count(yard, 1)
    assert {result.artisan for result in dump(yard.store)[2]} == {"A77"}


def test_rejected_record_leaves_the_list_and_counts_nowhere(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    reject_record(yard, 1)
    assert list_waiting(yard) == [] and dump(yard.store) == ([], [], [], [])


@pytest.mark.parametrize(
    "junk", [7, {}, {"id": "x", "kind": "dance"}, {"id": "\ud800", "stage": "a/b"}]
)
def test_junk_can_be_rejected_but_never_counts(yard, junk):
    yard.client.post(
        "/api/sync/push",
        content=json.dumps({"protocol": 1, "request_id": "r", "events": [junk]}),
        headers=yard.headers,
    )
    with pytest.raises(BadInput) as caught:
        let_count(yard, 1)
    assert "reject it" in caught.value.todo
    reject_record(yard, 1)
    assert list_waiting(yard) == []


def test_later_decision_takes_the_place_of_the_earlier(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    reject_record(yard, 1)
    let_count(yard, 1, {"artisan": {"A77": "A01"}})
    assert {result.artisan for result in dump(yard.store)[2]} == {"A01"}
    let_count(yard, 1, {"artisan": {"A77": "A02"}})
    assert {result.artisan for result in dump(yard.store)[2]} == {"A02"}
    reject_record(yard, 1)
    assert dump(yard.store) == ([], [], [], [])


def test_second_person_who_saw_an_older_state_is_told_and_changes_nothing(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    let_count(yard, 1, {"artisan": {"A77": "A01"}})
    before = count_rows(yard)
    for decide in (
        lambda: let_count(yard, 1, {"artisan": {"A77": "A02"}}, seen=""),
        lambda: reject_record(yard, 1, seen=""),
    ):
        with pytest.raises(Clash):
            decide()
    assert count_rows(yard) == before


def test_of_a_conflict_either_content_can_count(yard):
    first = yard.phone.inspect("B1-001")
    second = Phone(yard.checklist).inspect("B1-001", dents="fail", disposition="rework")
    yard.push(first)
    yard.push(second)
    assert stove_row(yard.store, "finished/B1-1").disposition == "release"
    let_count(yard, 2)
    assert stove_row(yard.store, "finished/B1-1").disposition == "rework"
    reject_record(yard, 2)
    assert stove_row(yard.store, "finished/B1-1").disposition == "release"


def test_accepted_correction_and_void_work_on_their_target(yard):
    target = yard.phone.inspect("B1-001", width="120", disposition="rework")
    better = Phone(yard.checklist, OTHER).inspect("B1-001", maker="A77")["body"]
    yard.push(
        target, yard.phone.correct(target, better), {**yard.phone.void(target), "inspector": "I99"}
    )
    let_count(yard, 2, {"artisan": {"A77": "A01"}})
    assert stove_row(yard.store, "finished/B1-1").disposition == "release"
    let_count(yard, 3, {"inspector": {"I99": "I01"}})
    assert dump(yard.store) == ([], [], [], [])


def test_correction_of_an_accepted_record_counts_whenever_it_came(yard):
    target = yard.phone.inspect("B1-001", maker="A77", width="120", disposition="rework")
    good = Phone(yard.checklist, OTHER).inspect("B1-001")["body"]
    yard.push(yard.phone.correct(target, good), target)
    let_count(yard, 2, {"artisan": {"A77": "A01"}})
    assert stove_row(yard.store, "finished/B1-1").disposition == "release"


def test_figures_are_the_same_made_anew(yard):
    yard.push(
        yard.phone.inspect("B1-001", maker="A77"),
        yard.phone.inspect("B1-002"),
        yard.phone.inspect("B1-003", batch="B9"),
    )
    let_count(yard, 1, {"artisan": {"A77": "A02"}})
    reject_record(yard, 3)
    before = dump(yard.store)
    assert len(before[0]) == 2
    with yard.store.writing() as connection:
        stove_projection.rebuild(connection)
    assert dump(yard.store) == before


def test_phones_pull_decisions_and_the_sender_does_too(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    let_count(yard, 1, {"artisan": {"A77": "A02"}})
    for headers in (yard.headers, yard.pair(OTHER)):
        (row,) = [
            row
            for row in pull(yard, headers)["events"]
            if row["event"]["kind"] == "quarantine_decision"
        ]
        assert row["state"] == "counted" and row["event"]["body"]["event"]["stove"] == "B1-001"


def test_phone_cannot_decide_nor_record_a_lesson(yard):
    held = yard.phone.inspect("B1-001", maker="A77")
    yard.push(held)
    mapped = yard.phone.inspect("B1-001")
    body = {"action": "accept", "reason": "mine", "original_hash": held["hash"], "event": mapped}
    lesson = {"held_on": "2026-11-20", "step": "turn-edge", "people": ["A01"], "note": ""}
    answer = yard.push(
        yard.phone.seal(
            "quarantine_decision", "B1-001", body, corrects=held["id"], device_id="server"
        ),
        yard.phone.seal("lesson", "B1-001", lesson),
    )
    assert [result["outcome"] for result in answer["results"]] == ["quarantined"] * 2
    assert all(result["reason"]["code"] == "server_only" for result in answer["results"])
    assert dump(yard.store) == ([], [], [], [])
    for seq in (2, 3):
        with pytest.raises(BadInput):
            let_count(yard, seq)


def test_record_that_counts_or_is_not_there_cannot_be_decided(yard):
    yard.push(yard.phone.inspect("B1-001"))
    for seq in (1, 9):
        with pytest.raises(NotFound):
            let_count(yard, seq)


def test_repeat_of_a_decided_record_says_the_same_as_before(yard):
    event = yard.phone.inspect("B1-001", maker="A77")
    first = yard.push(event)["results"]
    let_count(yard, 1, {"artisan": {"A77": "A02"}})
    assert yard.push(event)["results"] == first and len(dump(yard.store)[0]) == 1


def test_batch_waits_only_for_records_that_nobody_decided(yard):
    yard.push(*(yard.phone.inspect(f"B1-00{n}", maker="A77") for n in range(3)))
    reject_record(yard, 1)
    let_count(yard, 2, {"artisan": {"A77": "A01"}})
    with yard.store.reading() as connection:
        assert log.count_quarantined(connection, "B1") == 1 and log.count_waiting(connection) == 1


def test_audit_finds_nothing_altered_after_decisions(yard):
    yard.push(
        yard.phone.inspect("B1-001", maker="A77"), yard.phone.inspect("B1-002"), 7, {"dev_seq": 2.5}
    )
    let_count(yard, 1, {"artisan": {"A77": "A01"}})
    reject_record(yard, 3)
    assert audit_store(yard.store).altered == []
