"""What a person is told of a yard's own checklist: weaker safety and moved limits are named,
tighter ones are not.
"""

from pathlib import Path

import pytest

from qcapp.checklist.compare import YARDS_OWN, find_lost_cautions, list_warnings
from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist

SHIPPED = load_checklist(Path(__file__).parents[2] / "checklists" / "finished-stove.yaml")


def change(check_id, alter):
    compiled = SHIPPED.compiled()
    alter(next(check for check in compiled["checks"] if check["id"] == check_id))
    return Checklist.from_compiled(compiled)


def drop(*check_ids):
    compiled = SHIPPED.compiled()
    compiled["checks"] = [check for check in compiled["checks"] if check["id"] not in check_ids]
    return Checklist.from_compiled(compiled)


def set_limit(side, value, **more):
    def alter(check):
        check["limits"]["medium"][side] = value
        check.update({"basis": "our drawing 3", **more})

    return alter


def told(own):
    return [(warning.key, warning.is_safety) for warning in list_warnings(SHIPPED, own)]


def test_same_checklist_says_nothing():
    assert told(SHIPPED) == [] and find_lost_cautions(SHIPPED, SHIPPED) == []


def test_critical_check_left_out_is_named_and_a_minor_one_is_not():
    (warning,) = list_warnings(SHIPPED, drop("leg-load", "paint-colour"))
    assert warning.key == "checks.leg-load" and warning.is_safety
    assert "Legs carry 20 kg" in warning.text and "can hurt someone" in warning.text


@pytest.mark.parametrize(
    ("side", "value", "is_named"),
    [
        ("upper", 103, False),
        ("upper", 102, False),
        ("upper", 104, True),
        ("upper", None, True),
        ("lower", 97, False),
        ("lower", 98, False),
        ("lower", 96, True),
        ("lower", None, True),
    ],
)
def test_limit_is_named_when_it_lets_more_pass(side, value, is_named):
    found = told(change("door-opening-width", set_limit(side, value)))
    assert found == (
        [(f"checks.door-opening-width.measure.limits.medium.{side}", False)] if is_named else []
    )


def test_changed_limit_with_the_old_source_is_told():
    own = change(
        "door-opening-width",
        set_limit("upper", 102, basis="placeholder: replace by your own drawing"),
    )
    assert told(own) == [("checks.door-opening-width.basis", False)]


def test_weaker_judging_is_named():
    assert told(change("sharp-edges", lambda check: check.update(severity="minor"))) == [
        ("checks.sharp-edges.severity", True)
    ]
    assert told(change("latch", lambda check: check.update(when={"batch.painted": True}))) == [
        ("checks.latch.when", True)
    ]

    def trust_tool(check):
        check["uncertainty"] = 0.1
        for limits in check["limits"].values():
            limits.update(accept_lower=limits["lower"] + 0.1, accept_upper=limits["upper"] - 0.1)
        check["basis"] = "our drawing 3"

    assert told(change("door-opening-width", trust_tool)) == [
        ("checks.door-opening-width.measure.uncertainty", False)
    ]


def test_lost_caution_is_found_with_its_words():
    ((key, words),) = find_lost_cautions(
        SHIPPED, change("leg-load", lambda check: check.update(caution=None))
    )
    assert key == "checks.leg-load.caution" and "Feet clear" in words
    assert find_lost_cautions(SHIPPED, drop("leg-load")) == [], (
        "of a check that is left out nothing is asked"
    )


@pytest.mark.parametrize(
    ("check", "key", "value", "is_safety"),
    [
        ("leg-rock", "may_not_apply", True, False),
        ("leg-load", "lasts_seconds", 10, True),
        ("leg-load", "lasts_seconds", None, True),
        ("handle-pull", "after", None, True),
    ],
)
def test_easier_way_to_pass_is_named(check, key, value, is_safety):
    assert told(change(check, lambda found: found.update({key: value}))) == [
        (f"checks.{check}.{key}", is_safety)
    ]
    assert told(change("leg-load", lambda found: found.update(lasts_seconds=120))) == []


def make_weaker():
    """A checklist that is weaker in every way that is named."""

    def alter(check):
        check.update(severity="minor", when={"batch.painted": True}, may_not_apply=True)
        check.pop("lasts_seconds", None)
        check.pop("after", None)
        for option in check.get("options", ()):
            option.update(verdict="pass")
        if "limits" in check:
            check.update(uncertainty=0)
            for number, limits in enumerate(check["limits"].values()):
                upper, lower = (None, 1) if number else (999, None)
                limits.update(upper=upper, lower=lower, accept_upper=upper, accept_lower=lower)

    compiled = SHIPPED.compiled()
    compiled["checks"] = compiled["checks"][1:]
    for check in compiled["checks"]:
        alter(check)
    return Checklist.from_compiled(compiled)


def test_sentences_name_what_the_checklist_is_measured_by():
    """One that a phone brought is measured by the yard's own, which may be no shipped one."""
    weaker = make_weaker()
    texts = [notice.text for notice in list_warnings(SHIPPED, weaker, YARDS_OWN)]
    assert len(texts) > 30 and not [text for text in texts if "shipped" in text]
    assert any("the yard's own checklist has 103 mm" in text for text in texts)
    assert len([text for text in texts if "yard's own" in text]) > 10
    shipped = [notice.text for notice in list_warnings(SHIPPED, weaker)]
    assert any("the shipped checklist has 103 mm" in text for text in shipped)
