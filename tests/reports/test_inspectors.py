"""Inspectors beside each other: who is named, who is not, and what second looks do to the rates."""

import numpy as np
import pytest

from qcapp.checklist.history import StepRef
from qcapp.inspection.inspector_counts import InspectorSteps, InspectorStoves
from qcapp.inspection.study import SECOND_LOOK, StudyAnswer
from qcapp.reports.inspectors import build_inspector_report, correct_steps
from qcapp.reports.look_errors import find_second_look_errors
from tests.builders import build_small_checklist

CHECKLIST = build_small_checklist()
STEPS = {StepRef(CHECKLIST.id, step.id): step for step in CHECKLIST.steps}
PEOPLE = {code: {"name": name} for code, name in (("I01", "Ciro"), ("I02", "Dodo"), ("A01", "Ano"))}
TWO = list(STEPS)


def count_yard(looks):
    """looks: (batch, maker, inspector, failed of each step) of each stove."""
    steps, stoves = {}, {}
    for batch, maker, inspector, failed in looks:
        for step, has_failed in zip(TWO, failed, strict=True):
            own = steps.setdefault((batch, step, maker, inspector), [0, 0])
            own[0] += 1
            own[1] += bool(has_failed)
        whole = stoves.setdefault((batch, inspector), [0, 0, 0, 0])
        total = int(sum(failed))
        for place, more in enumerate((1, int(total > 0), total, total**2)):
            whole[place] += more
    return (
        [
            InspectorSteps("finished", batch, step, maker, who, *counts)
            for (batch, step, maker, who), counts in steps.items()
        ],
        [
            InspectorStoves("finished", batch, who, *counts)
            for (batch, who), counts in stoves.items()
        ],
    )


def report_of(looks, min_count=20):
    return build_inspector_report(*count_yard(looks), STEPS, PEOPLE, min_count=min_count)


def draw_looks(rng, *, strict=1.0, share=lambda maker: 0.5, makers=6, batches=6, stoves=40):
    """Makers and batches differ; I02 sees `strict` times as many faults; share: of a maker's stoves
    that I02 inspects.
    """
    own = rng.beta(2, 20, makers)
    for batch in range(batches):
        ease = rng.uniform(0.5, 1.5)
        for _ in range(stoves):
            maker = int(rng.integers(makers))
            is_second = rng.random() < share(maker)
            rate = min(0.95, own[maker] * ease * (strict if is_second else 1))
            # The two steps of a stove fail together more often than by chance.
            rates = np.clip(rate * rng.gamma(2, 0.5), 0, 0.95)
            yield f"B{batch}", f"A{maker:02}", ("I01", "I02")[is_second], rng.random(2) < rates


def test_inspector_who_sees_more_is_named_on_the_same_work():
    found = report_of(list(draw_looks(np.random.default_rng(1), strict=3.0)))
    first, second = found.inspectors
    assert (first.mark, second.mark) == ("fewer", "more") and found.differing
    assert second.difference.low > 0 and second.stoves.interval and second.q < 0.05
    assert second.compared > 200 and second.name == "Dodo"


def test_inspector_who_has_the_weaker_makers_is_not_named_for_it():
    # I02 gets nearly all of three makers, who fail much; both see the same.
    rng, marks = np.random.default_rng(2), []
    for _ in range(60):
        looks = draw_looks(rng, share=lambda maker: 0.9 if maker < 3 else 0.1)
        marks += [row.mark for row in report_of(list(looks)).inspectors]
    assert np.mean([mark in ("more", "fewer") for mark in marks]) <= 0.06


def test_makers_inspected_by_others_are_said_with_both_shares():
    looks = [("B1", "A01", "I01", (0, 0))] * 45 + [("B1", "A01", "I02", (0, 0))] * 5
    looks += [("B1", "A02", "I01", (0, 0))] * 20 + [("B1", "A02", "I02", (0, 0))] * 80
    (one, other) = report_of(looks).uneven
    assert one.step == TWO[0] and other.step == TWO[1] and one.p < 0.001
    assert one.makers[0].own == (45, 50) and one.makers[0].others == (20, 100)
    assert (one.makers[0].name, one.makers[0].inspector) == ("Ano", "Ciro")


def test_makers_inspected_alike_are_not_said():
    looks = [("B1", f"A0{n % 2}", f"I0{n // 2 % 2}", (0, 0)) for n in range(200)]
    assert report_of(looks).uneven == ()
    # However uneven, a handful of stoves says nothing.
    few = [("B1", "A01", "I01", (0, 0))] * 9 + [("B1", "A02", "I02", (0, 0))] * 9
    assert report_of(few).uneven == ()


def test_who_cannot_be_compared_is_not():
    alone = report_of([("B1", "A01", "I01", (1, 0)), ("B1", "A01", "I01", (0, 0))] * 30)
    assert [row.mark for row in alone.inspectors] == ["alone"]
    apart = report_of([("B1", "A01", "I01", (1, 0))] * 40 + [("B2", "A01", "I02", (0, 0))] * 40)
    assert [row.mark for row in apart.inspectors] == ["alone", "alone"]
    few = report_of([("B1", "A01", "I01", (1, 0))] * 5 + [("B1", "A01", "I02", (0, 0))] * 5)
    assert [row.mark for row in few.inspectors] == ["too few", "too few"]


def test_makers_stand_beside_inspectors_with_the_same_counts():
    found = report_of(list(draw_looks(np.random.default_rng(3))))
    for maker in found.makers:
        assert sum(one.inspected for one in maker.by_inspector) == maker.steps.inspected
        assert sum(one.failed for one in maker.by_inspector) == maker.steps.failed
    assert sum(row.steps.inspected for row in found.inspectors) == sum(
        maker.steps.inspected for maker in found.makers
    )
    assert sum(row.stoves.inspected for row in found.inspectors) == 240


def look_twice(first, second, stove):
    """answers and the inspection of a stove; first, second: marks of the edge and of the dents."""

    def give(edge, dents):
        return {
            "sharp-edge": {"mark": edge},
            "door-opening-width": {"values": ["100"]},
            "dents": {"mark": dents},
        }

    body = {"size": "medium", "batch_attributes": {}, "answers": give(*first)}
    inspection = {"inspector": "I01", "checklist_hash": CHECKLIST.hash, "body": body}
    return StudyAnswer(SECOND_LOOK, stove, "I02", 1, "t", give(*second)), inspection


def errors_of(*pairs):
    given = {f"finished/S{n}": look_twice(*pair, f"finished/S{n}") for n, pair in enumerate(pairs)}
    answers = [answer for answer, _inspection in given.values()]
    first = {stove: inspection for stove, (_answer, inspection) in given.items()}
    return find_second_look_errors(answers, first, {CHECKLIST.hash: CHECKLIST})


def test_missed_and_false_alarms_are_counted_by_step_and_by_stove():
    good, edge, dents = ("pass", "pass"), ("fail", "pass"), ("pass", "fail")
    found = errors_of((good, edge), (edge, edge), (dents, good), (good, good), (edge, dents))
    # Edge and dents are one step: the last stove failed it at both looks.
    assert (found.by_step.missed, found.by_step.failed) == (1, 3)
    assert (found.by_step.false_alarms, found.by_step.passed) == (1, 7)
    assert (found.by_stove.missed, found.by_stove.failed) == (1, 3)
    assert (found.by_stove.false_alarms, found.by_stove.passed) == (1, 2)
    assert found.by_step.stoves == 5 and not found.by_step.is_enough


def test_second_look_by_the_same_person_or_without_a_first_counts_nowhere():
    answer, inspection = look_twice(("pass", "pass"), ("fail", "pass"), "finished/S1")
    same = {"finished/S1": {**inspection, "inspector": "I02"}}
    for first in (same, {}):
        found = find_second_look_errors([answer], first, {CHECKLIST.hash: CHECKLIST})
        assert found.by_step.stoves == 0 and found.by_step.missed_share is None


def test_rates_are_corrected_when_there_are_enough_second_looks():
    good, edge = ("pass", "pass"), ("fail", "pass")
    pairs = [(good, edge)] * 12 + [(edge, edge)] * 12 + [(good, good)] * 100
    steps, _stoves = count_yard([("B1", "A01", "I01", (n % 20 == 0, 0)) for n in range(400)])
    rows = correct_steps(steps, STEPS, errors_of(*pairs).by_step, 1.0)
    turn = next(row for row in rows if row.step == TWO[0])
    # Half of the faults are missed: twice the rate as shown.
    assert turn.shown.rate == pytest.approx(0.05)
    assert turn.corrected.value == pytest.approx(0.1)
    assert turn.corrected.low < 0.1 < turn.corrected.high
    few = correct_steps(steps, STEPS, errors_of(*pairs[:5]).by_step, 1.0)
    assert [row.corrected for row in few] == [None] * len(few)
