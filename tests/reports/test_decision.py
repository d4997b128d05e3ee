"""May this batch be taken? From pushed stoves to the computed decision and its reasons."""

from dataclasses import replace

import pytest

from qcapp.errors import BadInput
from qcapp.reports import decision_reasons as why
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
        (why.NONE_INSPECTED(),),
    )


def test_every_stove_released_is_accepted(yard):
    push_good(yard, range(1, 21))
    decision = decide_now(yard)
    assert decision.final == "accept" and decision.reasons[0] == why.ALL_INSPECTED(
        stoves=20, released=20, sound=20
    )
    assert decision.result is None


def test_stove_not_inspected_yet_keeps_the_batch_from_being_ready(yard):
    push_good(yard, range(1, 20))
    assert decide_now(yard).reasons == (why.NOT_INSPECTED(n=1, lot=20),)


@pytest.mark.parametrize(
    ("disposition", "reason"),
    [("rework", why.WAIT_FOR_REWORK(n=1)), ("hold", why.WAIT_FOR_DECISION(n=1))],
)
def test_waiting_stove_keeps_the_batch_from_being_ready(yard, disposition, reason):
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="120", disposition=disposition),
    )
    decision = decide_now(yard, every(2))
    assert (decision.computed, decision.reasons) == ("not_ready", (reason,))


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
        why.ALL_INSPECTED(stoves=3, released=2, sound=1),
        why.RELEASED_BY_CONCESSION(n=1),
        why.SCRAPPED(n=1),
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
        (why.RELEASED_WITH_CRITICAL(n=1),),
    )
    assert not decision.results[0].is_met
    with pytest.raises(BadInput) as refused:
        build_overruling(facts_of(yard), decision, "accept", "the buyer is in a hurry")
    assert "hurt someone" in refused.value.what


def test_stove_released_without_every_check_is_named(yard):
    yard.push(yard.phone.inspect("B1-001"), short(yard, "B1-002"))
    assert decide_now(yard, every(2)).reasons == (why.RELEASED_UNCHECKED(n=1, serials=["B1-002"]),)


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
        why.FAULTS_NONE_ACCEPTED(severity="critical", failed=0, n=6),
        why.FAULTS_AGAINST_LIMITS(severity="major", failed=1, n=3, ac=1, re=2),
    )
    assert decision.reasons[3] == why.FAULTY_WAITS(n=1)


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
        why.SAMPLE_NOT_WHOLE(n=2, serials=["B1-002", "B1-003"]),
        why.CRITICAL_NOT_LOOKED_AT(n=3),
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
    assert decision.reasons[-1] == why.RECORDS_QUARANTINED(n=1)


def test_a_long_list_of_serials_is_cut_and_says_how_many_more(yard):
    push_good(yard, [30])
    reason = decide_now(yard, sample(30, range(1, 15))).reasons[3]
    assert reason == why.SAMPLE_NOT_WHOLE(
        n=14, serials=why.AND_MORE(shown=serials(*range(1, 13)), more=2)
    )
    assert why.REASONS.word(reason).endswith("B1-011, B1-012 and 2 more.")


def test_overruling_needs_a_reason_and_another_decision(yard):
    push_good(yard, range(1, 21))
    decision = decide_now(yard)
    for final, reason in (("reject", "  "), ("accept", "as computed"), ("perhaps", "x")):
        with pytest.raises(BadInput):
            build_overruling(facts_of(yard), decision, final, reason)
    assert (
        build_overruling(facts_of(yard), decision, "reject", " wet paint ")["reason"] == "wet paint"
    )
