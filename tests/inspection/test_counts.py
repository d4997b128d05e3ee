"""What is counted, on the smallest stoves that show each rule."""

from types import SimpleNamespace
from typing import Any

import pytest

from qcapp.errors import NotFound, QcappError
from qcapp.inspection.counts import list_results, verdict_differences
from qcapp.inspection.judge import judge_check
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.tallies import COUNTED_VERDICTS, CountedCheck, CountedInspection, tally
from tests.inspection.checks import build_checklist

WORDS = {"en": "words"}
BOTH = {"lower": 97, "nominal": 100, "upper": 103, "accept_lower": 98, "accept_upper": 102}
AREA = {"lower": 68, "nominal": 75, "upper": 80, "accept_lower": 68, "accept_upper": 80}
TOO_LARGE = {"id": "too-large", "title": WORDS, "side": "above"}
TOO_SMALL = {"id": "too-small", "title": WORDS, "side": "below"}


def numbers(check_id: str, kind: str = "measure", limits: dict = BOTH, **more: Any) -> dict:
    return {
        "id": check_id,
        "kind": kind,
        "limits": {"medium": limits},
        "step": "cut-door",
        "possible": {"lower": 0, "upper": 400},
        "faults": [TOO_LARGE, TOO_SMALL],
        **more,
    }


CHECKLIST = build_checklist(
    [
        numbers("width"),
        numbers(
            "height",
            limits={**BOTH, "lower": 70, "accept_lower": 70, "upper": 90, "accept_upper": 90},
        ),
        numbers(
            "area",
            "calculated",
            AREA,
            inputs=["width", "height"],
            expression=["/", ["*", ["input", "width"], ["input", "height"]], 100],
        ),
        numbers("gap", step="bed-liner", decision="guarded"),
        {
            "id": "latch",
            "kind": "tick",
            "step": "fit-door",
            "severity": "critical",
            "faults": [{"id": "loose", "title": WORDS, "side": None}],
        },
        {
            "id": "ring",
            "kind": "choice",
            "step": "fire",
            "faults": [
                {"id": "cracked", "title": WORDS, "side": None},
                {"id": "soft", "title": WORDS, "side": None},
            ],
            "options": [
                {"id": "clear", "verdict": "pass", "fault": None},
                {"id": "dull", "verdict": "fail", "fault": "cracked"},
                {"id": "dead", "verdict": "fail", "fault": None},
            ],
        },
        {"id": "paint", "kind": "tick", "step": "paint", "when": {"batch.painted": True}},
    ]
)
CHECKLISTS = {"h1": CHECKLIST}


def inspection(
    event_id: str = "e1",
    at: str = "t1",
    crew: dict | None = None,
    verdicts: dict | None = None,
    **answers: dict,
) -> dict:
    return {
        "id": event_id,
        "kind": "inspection",
        "device_id": "d1",
        "dev_seq": 1,
        "inspector": "ana",
        "batch": "B1",
        "stove": "K-1",
        "checklist_hash": "h1",
        "captured_at": at,
        "photos": [],
        "corrects": None,
        "body": {
            "size": "medium",
            "batch_attributes": {},
            "started_at": at,
            "crew": crew or {},
            "answers": answers,
            "verdicts": verdicts or {},
            "disposition": {"kind": "release"},
        },
    }


def results_of(*events: dict, stove: str = "finished/K-1") -> list[SimpleNamespace]:
    """Each check of each inspection, with what it belongs to."""
    inspections = fold_stove(events)["inspections"]
    return [
        SimpleNamespace(
            stove=stove,
            inspection_id=one["id"],
            first_pass=one is inspections[0],
            value=value,
            **counted._asdict(),
        )
        for one in inspections
        for counted, value in list_results(one, CHECKLISTS)
    ]


def count_steps(results: list) -> list[tuple]:
    """(step, inspected, failed) in order of the step."""
    by_inspection: dict[tuple, list] = {}
    for one in results:
        checked = (one.check_id, one.part, one.step, one.severity, None)
        by_inspection.setdefault((one.stove, one.inspection_id, one.first_pass), []).append(
            CountedCheck(*checked, one.verdict, one.is_fail, one.fault)
        )
    inspections = [
        CountedInspection(
            "2026-11-24",
            "B1",
            "medium",
            stove.partition("/")[0],
            "finished-stove",
            first_pass,
            tuple(checks),
        )
        for (stove, _id, first_pass), checks in by_inspection.items()
    ]
    sums: dict[str, tuple] = {}
    for key, counts in tally(inspections).items():
        if key.kind == "step":
            inspected, failed = sums.get(key.name, (0, 0))
            sums[key.name] = (inspected + counts.inspected, failed + counts.failed)
    return [(step, *sums[step]) for step in sorted(sums)]


def result_of(check_id: str, **answers: dict) -> Any:
    return next(
        result for result in results_of(inspection(**answers)) if result.check_id == check_id
    )


def typed(text: str, **more: str) -> dict:
    return {"values": [text], **more}


def test_every_check_of_every_inspection_is_listed() -> None:
    results = results_of(inspection("e1", "t1"), inspection("e2", "t2"))
    assert [(result.inspection_id, result.check_id) for result in results] == [
        (event_id, check.id) for event_id in ("e1", "e2") for check in CHECKLIST.checks
    ]


def test_first_pass_is_the_earliest_capture_whatever_arrived_first() -> None:
    results = results_of(inspection("late", "t2"), inspection("early", "t1"))
    assert {result.inspection_id for result in results if result.first_pass} == {"early"}


def test_check_counts_for_who_did_its_step() -> None:
    results = results_of(inspection(crew={"cut-door": "m3", "assemble": "a1"}))
    artisans = {result.check_id: result.artisan for result in results}
    assert artisans["width"] == artisans["area"] == "m3"
    assert artisans["latch"] is None


def test_missing_and_not_applicable_are_in_no_denominator() -> None:
    results = results_of(inspection(latch={"mark": "not_applicable"}, ring={"option": "clear"}))
    assert [result.check_id for result in results if result.verdict in COUNTED_VERDICTS] == ["ring"]
    assert count_steps(results) == [("fire", 1, 0)]


def test_doubtful_counts_as_pass_when_simple_and_as_fail_when_guarded() -> None:
    simple, guarded = result_of("width", width=typed("97.5")), result_of("gap", gap=typed("97.5"))
    assert (simple.verdict, simple.is_fail, simple.fault) == ("doubtful", False, None)
    assert (guarded.verdict, guarded.is_fail, guarded.fault) == ("doubtful", True, "too-small")


@pytest.mark.parametrize(
    ("check_id", "answer", "fault"),
    [
        ("width", typed("104"), "too-large"),
        ("width", typed("96"), "too-small"),
        ("width", typed("104", fault="too-small"), "too-small"),
        ("width", typed("100", fault="too-large"), None),
        ("latch", {"mark": "fail"}, "loose"),
        ("latch", {"mark": "fail", "fault": "bent"}, "bent"),
        ("ring", {"option": "dull"}, "cracked"),
        ("ring", {"option": "dead"}, None),
        ("ring", {"option": "dead", "fault": "soft"}, "soft"),
        ("ring", {"option": "dull", "fault": "soft"}, "soft"),
    ],
)
def test_fault_is_the_named_one_else_the_one_beyond_doubt(
    check_id: str, answer: dict, fault: str | None
) -> None:
    assert result_of(check_id, **{check_id: answer}).fault == fault


def test_value_is_the_judged_number() -> None:
    assert result_of("area", width=typed("100"), height=typed("75,5")).value == 75.5
    assert result_of("latch", latch={"mark": "pass"}).value is None


def test_two_failed_checks_of_one_step_are_one_failed_stove() -> None:
    results = results_of(inspection(width=typed("110"), height=typed("80")))
    assert [result.check_id for result in results if result.is_fail] == ["width", "area"]
    assert count_steps(results) == [("cut-door", 1, 1)]


def test_steps_are_counted_over_stoves() -> None:
    good, bad = (
        inspection(width=typed("100"), latch={"mark": "pass"}),
        inspection(width=typed("110")),
    )
    results = [
        result
        for serial, event in (("K-1", good), ("K-2", bad), ("K-3", good))
        for result in results_of(event, stove=f"finished/{serial}")
    ]
    assert count_steps(results) == [("cut-door", 3, 1), ("fit-door", 2, 0)]


def test_same_serial_of_two_stages_is_two_stoves() -> None:
    good = inspection(width=typed("100"))
    results = [
        result
        for stage in ("finished", "cladding")
        for result in results_of(good, stove=f"{stage}/K-1")
    ]
    assert count_steps(results) == [("cut-door", 2, 0)]


def test_voided_stove_has_no_results() -> None:
    void = {**inspection("v"), "kind": "void", "corrects": "e1", "body": {"reason": "wrong stove"}}
    assert results_of(inspection(width=typed("110")), void) == []


def test_corrected_answers_count() -> None:
    right = inspection(width=typed("100"))["body"]
    correction = {
        **inspection("c"),
        "kind": "correction",
        "corrects": "e1",
        "body": {"reason": "typed wrong", "replacement": right},
    }
    results = results_of(inspection(width=typed("110")), correction)
    assert count_steps(results) == [("cut-door", 1, 0)]


def test_unknown_checklist_is_named() -> None:
    with pytest.raises(NotFound, match="h1"):
        list_results(fold_stove([inspection()])["inspections"][0], {})


def test_phone_verdicts_that_differ_are_listed_with_the_servers_reason() -> None:
    answers = {"width": typed("104"), "latch": {"mark": "pass"}}
    verdicts = {"width": "pass", "latch": "pass", "paint": "not_applicable", "gap": "pass"}
    state = fold_stove([inspection(verdicts=verdicts, **answers)])
    assert verdict_differences(state["inspections"][0], CHECKLISTS) == [
        {"check_id": "width", "phone": "pass", "server": "fail", "reason": "above-upper"},
        {"check_id": "gap", "phone": "pass", "server": "missing", "reason": "no-answer"},
    ]


def test_equal_verdicts_give_no_difference() -> None:
    state = fold_stove(
        [inspection(verdicts={"latch": "fail", "paint": "not_applicable"}, latch={"mark": "fail"})]
    )
    assert verdict_differences(state["inspections"][0], CHECKLISTS) == []


def test_calculated_check_without_its_checklist_is_an_error_not_a_verdict() -> None:
    with pytest.raises(QcappError, match="area"):
        judge_check(CHECKLIST.check_by_id["area"], {}, {"size": "medium", "batch": {}})
