"""What a study shows and advises; second looks against the first look."""

import random

import pytest

from qcapp.inspection.judge import Judgement
from qcapp.inspection.study import SECOND_LOOK, Study, StudyAnswer
from qcapp.reports.second_looks import build_second_look_report
from qcapp.reports.studies import GOOD_KAPPA, Look, build_study_report, compare_looks
from tests.builders import build_small_checklist

CHECKLIST = build_small_checklist()
WIDTH, EDGE = "door-opening-width", "sharp-edge"
CONTEXT = {"size": "medium", "batch": {}}
STEP = CHECKLIST.check_by_id[WIDTH].resolution
STOVES = tuple(f"S{n:02}" for n in range(24))


def plan(inspectors=("I01", "I02", "I03"), repeats=2):
    return Study(
        "st",
        "t",
        "2026-11-01T00:00:00.000Z",
        CHECKLIST.hash,
        "B1",
        STOVES,
        inspectors,
        repeats,
        (EDGE, WIDTH),
        "s",
        True,
    )


def answers(edge, width, study=None):
    study = study or plan()
    return [
        StudyAnswer(
            study.id,
            stove,
            who,
            repeat,
            "t",
            {EDGE: {"mark": edge(n, w, repeat)}, WIDTH: {"values": [str(width(n, w, repeat))]}},
        )
        for n, stove in enumerate(STOVES)
        for w, who in enumerate(study.inspectors)
        for repeat in (1, 2)
    ]


def mark(is_bad):
    return "fail" if is_bad else "pass"


def report(
    edge=lambda n, w, r: mark(n % 3 == 0),
    width=lambda n, w, r: 97 + n % 7 + (n * 3 + w + r) % 2 * 0.1,
):
    found = build_study_report(plan(), answers(edge, width), CHECKLIST, CONTEXT)
    return {row.check.id: row for row in found.checks}, found


def test_inspectors_who_see_the_same_agree_wholly():
    rows, found = report()
    assert (
        rows[EDGE].verdicts.agreement.kappa == pytest.approx(1)
        and rows[EDGE].verdicts.differing == ()
    )
    assert rows[EDGE].advice == ("The inspectors agree well.",)
    assert found.done == {"I01": 48, "I02": 48, "I03": 48} and found.planned == 48
    assert (
        rows[WIDTH].readings.share_of_limits.value < 0.1 and "good enough" in rows[WIDTH].advice[0]
    )


def test_chance_verdicts_ask_for_a_photo_pair_and_name_who_wavers():
    rows, _ = report(edge=lambda n, w, r: mark(n % 3 == 0 if w < 2 else (n * 7 + r * 5) % 3 == 0))
    row = rows[EDGE]
    assert row.verdicts.method == "fleiss" and row.verdicts.agreement.kappa < 0.6
    assert any("pair of photos" in sentence for sentence in row.advice)
    assert any(sentence.startswith("I03 judged") for sentence in row.advice)
    assert row.verdicts.differing[0][1][2][0] == "I03"


def test_one_who_reads_larger_calls_for_retraining_a_wavering_hand_for_a_gauge():
    rows, _ = report(width=lambda n, w, r: 97 + n % 5 + (2 if w == 2 else 0))
    assert any("retrain" in sentence for sentence in rows[WIDTH].advice)
    rows, _ = report(width=lambda n, w, r: 97 + n % 5 + ((n * 5 + w * 3 + r * 7) % 4 - 1.5))
    assert any("gauge" in sentence for sentence in rows[WIDTH].advice)


def test_only_good_stoves_teach_nothing_and_say_so():
    rows, _ = report(edge=lambda n, w, r: "pass")
    assert (
        rows[EDGE].verdicts.agreement.kappa is None
        and "the study shows nothing" in rows[EDGE].advice[0]
    )


def test_answers_of_others_and_of_no_plan_are_left_out():
    stray = [
        StudyAnswer("other", "S00", "I01", 1, "t", {}),
        StudyAnswer("st", "X", "I01", 1, "t", {}),
        StudyAnswer("st", "S00", "I09", 1, "t", {}),
    ]
    found = build_study_report(plan(), stray, CHECKLIST, CONTEXT)
    assert (
        sum(found.done.values()) == 0
        and found.checks[0].why_no_verdicts
        and found.checks[1].why_no_readings
    )


def report_of(study, given):
    found = build_study_report(study, given, CHECKLIST, CONTEXT)
    return {row.check.id: row for row in found.checks}


def test_third_inspector_on_one_stove_costs_no_other_stove():
    def edge(n, w, r):
        return mark(n % 3 == 0)

    def width(n, w, r):
        return 97 + n % 7 + (n * 3 + w + r) % 2 * 0.1

    two = answers(edge, width, plan(inspectors=("I01", "I02")))
    stray = StudyAnswer(
        "st", "S00", "I03", 1, "t", {EDGE: {"mark": "pass"}, WIDTH: {"values": ["97"]}}
    )
    alone, with_stray = report_of(plan(), two), report_of(plan(), [*two, stray])
    verdicts, readings = with_stray[EDGE].verdicts, with_stray[WIDTH].readings
    assert (verdicts.stoves, verdicts.left_out, verdicts.alike.same) == (24, 0, 23)
    assert verdicts.agreement.kappa == pytest.approx(alone[EDGE].verdicts.agreement.kappa, abs=0.1)
    # A crossed study cannot use one look; it says whose it leaves out.
    assert readings.study == alone[WIDTH].readings.study and readings.set_aside == ("I03",)
    assert (readings.stoves, readings.left_out) == (24, 0)


def test_inspector_who_missed_a_stove_costs_that_stove_alone():
    given = [
        one
        for one in answers(lambda n, w, r: mark(n % 3 == 0), lambda n, w, r: 97 + n % 7 + w * 0.1)
        if (one.stove, one.inspector) != ("S05", "I03")
    ]
    rows = report_of(plan(), given)
    assert rows[EDGE].verdicts.stoves == 24
    readings = rows[WIDTH].readings
    assert (readings.stoves, readings.left_out, readings.set_aside) == (23, 1, ())
    assert readings.inspectors == ("I01", "I02", "I03")


@pytest.mark.parametrize("stoves", range(2, 20))
def test_few_stoves_are_never_called_good_agreement(stoves):
    few = [
        one
        for one in answers(lambda n, w, r: mark(n % 2 == 0), lambda n, w, r: 97 + n % 7)
        if one.stove < f"S{stoves:02}"
    ]
    rows = report_of(plan(), few)
    said = " ".join(rows[EDGE].advice)
    assert "agree well" not in said and "looks good" not in said and "too few to say" in said
    assert rows[EDGE].verdicts.agreement.low < 1
    if stoves < 10:
        said = " ".join(rows[WIDTH].advice)
        assert "good enough." not in said and ("too few" in said or "study is small" in said)


def test_readings_that_never_differ_have_an_interval_with_a_width():
    rows = report_of(plan(), answers(lambda n, w, r: "pass", lambda n, w, r: 97 + n % 7))
    study, share = rows[WIDTH].readings.study, rows[WIDTH].readings.share_of_limits
    # A rule read to whole millimetres: rounding alone scatters by 1 / sqrt(12) (JCGM 100, F.2.2.1).
    assert study.repeatability.value == pytest.approx(0.2887 * float(STEP), rel=0.05)
    assert study.repeatability.low < study.repeatability.value < study.repeatability.high
    assert 0 < share.low < share.high


def inspection(edge="pass", width="100"):
    body = {
        "size": "medium",
        "batch_attributes": {},
        "answers": {EDGE: {"mark": edge}, WIDTH: {"values": [width]}},
    }
    return {"inspector": "I01", "checklist_hash": CHECKLIST.hash, "body": body}


def test_second_look_compares_each_check_with_the_first_look_of_another():
    first = {"finished/S1": inspection(), "finished/S2": inspection(edge="fail")}
    given = [
        StudyAnswer(
            SECOND_LOOK,
            "finished/S1",
            "I02",
            1,
            "t",
            {EDGE: {"mark": "fail"}, WIDTH: {"values": ["100"]}},
        ),
        StudyAnswer(SECOND_LOOK, "finished/S2", "I02", 1, "t", {EDGE: {"mark": "fail"}}),
        StudyAnswer(SECOND_LOOK, "finished/S2", "I01", 1, "t", {EDGE: {"mark": "pass"}}),
        StudyAnswer(SECOND_LOOK, "finished/S9", "I02", 1, "t", {EDGE: {"mark": "pass"}}),
    ]
    found = build_second_look_report(given, first, {CHECKLIST.hash: CHECKLIST})
    assert (found.stoves, found.alike, found.compared) == (2, 2, 3)
    (edge,) = [row.found for row in found.checks if row.found.check.id == EDGE]
    assert edge.verdicts.stoves == 2 and edge.verdicts.differing == (
        ("finished/S1", (("first look", "pass"), ("second look", "fail"))),
    )


@pytest.mark.parametrize("seed", range(12))
def test_agreement_is_called_weak_or_good_only_where_its_whole_interval_is(seed):
    """Few stoves, rare faults: kappa may be 0 and its interval reach nearly 1."""
    rng = random.Random(seed)
    faults, differing = rng.choice((0.05, 0.2, 0.5)), rng.choice((0.02, 0.1, 0.4))
    stoves = rng.choice((8, 13, 24))
    looks = []
    for n in range(stoves):
        is_bad = rng.random() < faults
        for who in ("I01", "I02"):
            seen = is_bad != (rng.random() < differing)
            looks.append(Look(STOVES[n], who, 1, Judgement("fail" if seen else "pass", "")))
    found = compare_looks(CHECKLIST.check_by_id[EDGE], looks, size="medium")
    said, agreement = " ".join(map(str, found.advice)), found.verdicts.agreement
    is_weak, is_good = "Agreement is weak" in said, "agree well" in said
    if agreement.kappa is None:
        assert "include some faulty stoves" in said and not (is_weak or is_good)
        return
    assert is_weak == (agreement.high < GOOD_KAPPA)
    assert is_good == (agreement.low >= GOOD_KAPPA and stoves >= 20)


def test_second_look_asks_nobody_to_measure_twice():
    first = {
        stove: {
            "inspector": "I01",
            "checklist_hash": CHECKLIST.hash,
            "body": {
                "size": "medium",
                "batch_attributes": {},
                "answers": {EDGE: {"mark": "pass"}, WIDTH: {"values": ["100"]}},
            },
        }
        for stove in STOVES
    }
    again = [
        StudyAnswer(SECOND_LOOK, stove, "I02", 1, "t", {WIDTH: {"values": ["106"]}})
        for stove in STOVES
    ]
    (row,) = build_second_look_report(again, first, {CHECKLIST.hash: CHECKLIST}).checks
    assert row.found.verdicts is not None and row.found.readings is None
    assert row.found.why_no_readings == ""
