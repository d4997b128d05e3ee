"""Other names for what a yard does not know: the copy counts, the record stays."""

import copy

from qcapp.inspection.event import Event, event_hash
from qcapp.inspection.quarantine_decision import apply_mapping, find_strangers
from tests.builders import Phone, build_small_checklist

MAPPING = {"artisan": {"A77": "A01"}, "inspector": {"I99": "I01"}, "batch": {"B9": "B1"}}
KNOWN = ({"A01", "I01"}, {"B1"})


def test_every_name_is_replaced_and_nothing_else():
    event = Phone(build_small_checklist()).inspect(
        "B1-001", maker="A77", inspector="I99", batch="B9"
    )
    before = copy.deepcopy(event)
    mapped = apply_mapping(event, MAPPING)
    assert event == before
    assert set(mapped["body"]["crew"].values()) == {"A01"}
    assert (mapped["inspector"], mapped["batch"]) == ("I01", "B1")
    for changed in (mapped, event):
        changed["body"].pop("crew")
        for field in ("inspector", "batch", "hash"):
            changed.pop(field)
    assert mapped == event


def test_copy_is_a_sealed_event_of_its_own():
    phone = Phone(build_small_checklist())
    first = phone.inspect("B1-001")
    for event in (
        first,
        phone.correct(first, phone.inspect("B1-001", maker="A77")["body"]),
        phone.void(first),
    ):
        mapped = apply_mapping(event, MAPPING)
        assert Event.model_validate(mapped).hash == event_hash(mapped)
        assert mapped["id"] == event["id"]


def test_correction_is_mapped_in_its_replacement():
    phone = Phone(build_small_checklist())
    event = phone.correct(phone.inspect("B1-001"), phone.inspect("B1-001", maker="A77")["body"])
    assert find_strangers(event, *KNOWN) == {"artisan": ["A77"]}
    mapped = apply_mapping(event, MAPPING)
    assert set(mapped["body"]["replacement"]["crew"].values()) == {"A01"}
    assert find_strangers(mapped, *KNOWN) == {}


def test_strangers_are_named_by_kind():
    phone = Phone(build_small_checklist())
    event = phone.inspect("B1-001", maker="A77", inspector="I99", batch="B9")
    assert find_strangers(event, *KNOWN) == {
        "artisan": ["A77"],
        "inspector": ["I99"],
        "batch": ["B9"],
    }
    assert find_strangers(phone.void(event), *KNOWN) == {}
