"""May this batch be taken? From pushed stoves to the computed decision and its reasons."""

from dataclasses import replace

import pytest

from qcapp.errors import BadInput
from qcapp.reports.decision import build_overruling, decide
from qcapp.reports.plan import AgreedPlan, Limit, read_plan
from tests.builders import open_yard
from tests.reports.test_plan import facts_of

LATER = "2026-11-24T12:00:00.000Z"


@pytest.fixture
def yard():
    return open_yard()


def serials(*numbers):
    return [f"B1-{n:03}" for n in numbers]


def push_good(yard, numbers):
    yard.push(*(yard.phone.inspect(serial) for serial in serials(*numbers)))


def decide_now(yard, plan=None):
    facts = facts_of(yard)
    return decide(facts, plan or read_plan(facts))


def every(lot):
    limits = tuple(Limit(severity, None, lot, 0, 1) for severity in ("critical", "major", "minor"))
    return AgreedPlan("every", lot, None, None, None, None, (), limits)


def sample(lot, drawn, *, major=(1, 2), minor=(2, 3), n_minor=None):
    limits = (
        Limit("critical", None, lot, 0, 1),
        Limit("major", "2.5", len(drawn), *major),
        Limit("minor", "4.0", n_minor or len(drawn), *minor),
    )
    return AgreedPlan("sample", lot, "II", "normal", "F", "s", tuple(serials(*drawn)), limits)


def short(yard, serial, edge="pass", disposition="release", **change):
    """A stove outside the sample: only the critical check is answered."""
    event = yard.phone.inspect(serial, edge=edge, disposition=disposition, **change)
    body = event["body"]
    answers = {"sharp-edge": body["answers"]["sharp-edge"]}
    verdicts = {
        **dict.fromkeys(body["verdicts"], "missing"),
        "sharp-edge": body["verdicts"]["sharp-edge"],
    }
    return yard.phone.seal(
        "inspection",
        serial,
        {**body, "answers": answers, "verdicts": verdicts, "scope": "critical"},
        at=event["captured_at"],
    )


def test_nothing_inspected_is_not_ready(yard):
    decision = decide_now(yard)
    assert (decision.computed, decision.reasons) == (
        "not_ready",
        ("No stove of this batch has been inspected.",),
    )


def test_every_stove_released_is_accepted(yard):
    push_good(yard, range(1, 21))
    decision = decide_now(yard)
    assert (
        decision.final == "accept"
        and "Every one of the 20 stoves was inspected" in decision.reasons[0]
    )
    assert decision.result is None


def test_stove_not_inspected_yet_keeps_the_batch_from_being_ready(yard):
    push_good(yard, range(1, 20))
    assert decide_now(yard).reasons == ("1 stove of 20 is not inspected yet.",)


@pytest.mark.parametrize(
    ("disposition", "words"),
    [("rework", "1 stove waits for rework."), ("hold", "1 stove waits for a decision.")],
)
def test_waiting_stove_keeps_the_batch_from_being_ready(yard, disposition, words):
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="120", disposition=disposition),
    )
    decision = decide_now(yard, every(2))
    assert (decision.computed, decision.reasons) == ("not_ready", (words,))


def test_mended_stove_no_longer_counts_against_what_is_offered_now(yard):
    yard.push(
        yard.phone.inspect("B1-001", edge="fail", disposition="rework"),
        yard.phone.inspect("B1-001", at=LATER),
    )
    decision = decide_now(yard, every(1))
    assert decision.computed == "accept"
    critical = decision.results[0]
    assert (critical.failed, critical.of, critical.is_met) == (1, 1, True)


def test_concession_and_scrap_are_told_and_do_not_reject(yard):
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-003", edge="fail", disposition="scrap"),
    )
    decision = decide_now(yard, every(3))
    assert decision.computed == "accept"
    assert decision.reasons == (
        "Every one of the 3 stoves was inspected; 2 are offered, 1 with no open fault.",
        (
            "1 stove is released by concession, with a known fault that cannot hurt anyone; the"
            " reasons are told."
        ),
        "1 stove is scrapped and not offered.",
    )


def test_offered_stove_whose_critical_fault_nobody_looked_at_again_rejects(yard):
    first = yard.phone.inspect("B1-001", edge="fail", disposition="rework")
    again = yard.phone.inspect("B1-001", at=LATER)["body"]
    blind = {
        **again,
        "answers": {"dents": {"mark": "pass"}},
        "verdicts": {"sharp-edge": "missing", "door-opening-width": "missing", "dents": "pass"},
    }
    yard.push(first, yard.phone.seal("inspection", "B1-001", blind, at=LATER))
    decision = decide_now(yard, every(1))
    assert (decision.computed, decision.reasons) == (
        "reject",
        ("1 stove is offered with an open fault that can hurt someone.",),
    )
    assert not decision.results[0].is_met
    with pytest.raises(BadInput) as refused:
        build_overruling(facts_of(yard), decision, "accept", "the buyer is in a hurry")
    assert "hurt someone" in refused.value.what


def test_stove_released_without_every_check_is_named(yard):
    yard.push(yard.phone.inspect("B1-001"), short(yard, "B1-002"))
    assert decide_now(yard, every(2)).reasons == (
        "1 stove is offered without every check: B1-002.",
    )


def test_everything_scrapped_is_rejected(yard):
    yard.push(yard.phone.inspect("B1-001", edge="fail", disposition="scrap"))
    assert decide_now(yard, every(1)).computed == "reject"


def test_sample_with_no_more_faults_than_accepted_is_accepted(yard):
    plan = sample(6, [2, 5, 3])
    yard.push(
        yard.phone.inspect("B1-002"),
        yard.phone.inspect("B1-005", width="120", disposition="rework"),
        yard.phone.inspect("B1-003"),
        *(short(yard, serial) for serial in serials(1, 4, 6)),
    )
    decision = decide_now(yard, plan)
    assert (decision.computed, decision.result) == ("accept", "accepted")
    assert decision.reasons[:2] == (
        "Critical faults at first pass in 0 of 6 stoves; none is accepted.",
        "Major faults at first pass in 1 of 3 stoves; up to 1 accept, 2 or more reject.",
    )
    assert "1 stove found faulty waits" in decision.reasons[3]


def test_mending_does_not_change_what_the_sample_showed_at_first_pass(yard):
    yard.push(
        *(
            yard.phone.inspect(serial, width="120", disposition="rework")
            for serial in serials(1, 2)
        ),
        yard.phone.inspect("B1-003"),
        *(yard.phone.inspect(serial, at=LATER) for serial in serials(1, 2)),
    )
    decision = decide_now(yard, sample(3, [1, 2, 3]))
    assert (decision.computed, decision.result) == ("reject", "rejected")
    assert [result.is_met for result in decision.results] == [True, False, True]


def test_major_fault_outside_the_sample_does_not_count_and_a_critical_one_does(yard):
    plan = sample(3, [1])
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="120", disposition="rework"),
        short(yard, "B1-003"),
    )
    assert decide_now(yard, plan).results[1].failed == 0
    yard.push(short(yard, "B1-004", edge="fail", disposition="rework"))
    decision = decide_now(yard, replace(plan, lot=4))
    assert (decision.computed, decision.results[0].failed, decision.results[0].of) == (
        "reject",
        1,
        4,
    )


def test_smaller_sample_of_a_severity_is_the_first_drawn(yard):
    plan = sample(4, [4, 1, 2], minor=(0, 1), n_minor=1)
    yard.push(
        yard.phone.inspect("B1-004"),
        yard.phone.inspect("B1-001", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-002"),
    )
    minor = decide_now(yard, plan).results[2]
    assert (minor.failed, minor.of, minor.is_met) == (0, 1, True)


def test_open_sample_and_stoves_without_the_critical_checks_are_not_ready(yard):
    yard.push(yard.phone.inspect("B1-001"), short(yard, "B1-002"))
    decision = decide_now(yard, sample(5, [1, 2, 3]))
    assert decision.computed == "not_ready" and decision.result is None
    assert decision.reasons[3:] == (
        "Of the sample 2 stoves are not wholly inspected yet: B1-002, B1-003.",
        "3 stoves are not looked at yet for faults that can hurt someone.",
    )


def test_reduced_plan_accepts_in_the_gap_and_says_so_to_the_series(yard):
    yard.push(
        yard.phone.inspect("B1-001", width="120", disposition="rework"),
        yard.phone.inspect("B1-002"),
    )
    decision = decide_now(yard, sample(2, [1, 2], major=(0, 2)))
    assert (decision.computed, decision.result) == ("accept", "gap")


def test_not_looked_at_is_in_no_denominator(yard):
    yard.push(yard.phone.inspect("B1-001"), short(yard, "B1-002"))
    assert [result.of for result in decide_now(yard, every(2)).results] == [2, 1, 1]


def test_record_set_aside_is_told(yard):
    push_good(yard, range(1, 21))
    yard.push(yard.phone.inspect("B1-021", maker="A77"))
    decision = decide_now(yard)
    assert decision.computed == "accept"
    assert (
        decision.reasons[-1]
        == "1 record of this batch is set aside and counted nowhere until somebody decides."
    )


def test_overruling_needs_a_reason_and_another_decision(yard):
    push_good(yard, range(1, 21))
    decision = decide_now(yard)
    for final, reason in (("reject", "  "), ("accept", "as computed"), ("perhaps", "x")):
        with pytest.raises(BadInput):
            build_overruling(facts_of(yard), decision, final, reason)
    assert (
        build_overruling(facts_of(yard), decision, "reject", " wet paint ")["reason"] == "wet paint"
    )
