"""The list of changes: no field of the model can change without a sentence, and nothing is told
that did not change.
"""

import itertools
import types
from pathlib import Path
from typing import Annotated, Union, get_args, get_origin

import pytest
from pydantic import BaseModel

from qcapp.checklist.changes import list_changes
from qcapp.checklist.field_words import UNTOLD, name_field
from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.moved_items import find_moved
from qcapp.inspection.terms import SEVERITIES, TRADES, VERDICTS

FOLDER = Path(__file__).parents[2] / "checklists"
WORDS = {**SEVERITIES, **TRADES, **VERDICTS}
SHIPPED = [load_checklist(path) for path in sorted(FOLDER.glob("*.yaml"))]
FINISHED = next(one for one in SHIPPED if one.id == "finished-stove")


def tell(before, after):
    return [str(change.text) for change in list_changes(before, after, WORDS)]


def list_models(annotation):
    """Every pydantic model that an annotation leads to, itself first."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        found = [annotation]
        for field in annotation.model_fields.values():
            found += list_models(field.annotation)
        return found
    if get_origin(annotation) in (Annotated, Union, types.UnionType, tuple, dict, list):
        return [one for inner in get_args(annotation) for one in list_models(inner)]
    return []


MODELS = list(dict.fromkeys(list_models(Checklist)))
FIELDS = [
    (model, field)
    for model in MODELS
    for field in model.model_fields
    if field not in UNTOLD.get(model, ())
]


def find_instance(model, field):
    """(checklist, model, put): one that has such a model, with the field filled where there is
    one; put makes the checklist with another model in its place.
    """

    def search(node, is_filled):
        if type(node) is model and (getattr(node, field) or not is_filled):
            return node, lambda changed: changed
        if isinstance(node, BaseModel):
            children = [(name, getattr(node, name)) for name in type(node).model_fields]
        elif isinstance(node, dict):
            children = list(node.items())
        elif isinstance(node, tuple):
            children = list(enumerate(node))
        else:
            return None
        for name, child in children:
            found = search(child, is_filled)
            if found:
                inner, put = found
                return inner, lambda changed, n=name, p=put: replace(node, n, p(changed))
        return None

    for is_filled, checklist in itertools.product((True, False), SHIPPED):
        found = search(checklist, is_filled)
        if found:
            return checklist, *found
    raise LookupError(f"no shipped checklist has a {model.__name__}")


def replace(node, name, child):
    if isinstance(node, BaseModel):
        return node.model_copy(update={name: child})
    if isinstance(node, dict):
        return {**node, name: child}
    return (*node[:name], child, *node[name + 1 :])


def alter(value, model, field):
    """Another value, of the same shape where there is one."""
    if isinstance(value, bool | int | float):
        return not value if isinstance(value, bool) else value + 1
    if isinstance(value, str):
        return f"{value}-other"
    if field == "expression":
        return ["neg", value]
    if isinstance(value, tuple) and value:
        return value[1:]
    if isinstance(value, dict) and value:
        last, inner = list(value.items())[-1]
        return (
            {**value, last: f"{inner} other"}
            if isinstance(inner, str)
            else {key: one for key, one in value.items() if key != last}
        )
    if isinstance(value, BaseModel):
        name = next(iter(type(value).model_fields))
        return replace(value, name, alter(getattr(value, name), type(value), name))
    return invent(model.model_fields[field].annotation)


def invent(annotation):
    """A value of a field that is empty in every shipped checklist."""
    if get_origin(annotation) in (Union, types.UnionType):
        return invent(next(one for one in get_args(annotation) if one is not type(None)))
    if get_origin(annotation) is Annotated:
        return invent(get_args(annotation)[0])
    if get_origin(annotation) is tuple:
        return (invent(get_args(annotation)[0]),)
    if get_origin(annotation) is dict:
        return {"en": invent(get_args(annotation)[1])}
    return {bool: True, int: 7, float: 7.5}.get(annotation, "something")


@pytest.mark.parametrize(
    ("model", "field"), FIELDS, ids=[f"{model.__name__}.{field}" for model, field in FIELDS]
)
def test_change_of_any_field_is_told_by_a_name_of_its_own(model, field):
    assert name_field(model, field) != field, "give the field words in checklist/field_words.py"
    checklist, one, put = find_instance(model, field)
    changed = put(one.model_copy(update={field: alter(getattr(one, field), model, field)}))
    told = tell(checklist, changed)
    assert told, f"{model.__name__}.{field} changed unnamed"
    assert tell(checklist, checklist) == []


def test_every_model_is_walked():
    assert {"Checklist", "Limits", "Possible", "Fault", "Option", "CalculatedCheck"} <= {
        model.__name__ for model in MODELS
    }
    assert len(FIELDS) > 100


def test_field_without_words_is_told_under_its_key(monkeypatch):
    monkeypatch.setattr("qcapp.checklist.field_words.FIELD_WORDS", {})
    assert any(text.startswith("severity: now minor") for text in tell(FINISHED, change("latch")))


def change(check_id, **fields):
    fields = fields or {"severity": "minor"}
    checks = tuple(
        check.model_copy(update=fields) if check.id == check_id else check
        for check in FINISHED.checks
    )
    return FINISHED.model_copy(update={"checks": checks})


def test_limit_is_told_once_with_its_size_and_unit():
    width = FINISHED.check_by_id["door-opening-width"]
    limits = width.limits["medium"].model_copy(update={"upper": 102, "accept_upper": 101.2})
    after = change("door-opening-width", limits={**width.limits, "medium": limits})
    assert tell(FINISHED, after) == ["Size medium, at most: now 102 mm; before 103 mm"]


def test_deleted_caution_and_text_are_told_as_losses():
    sharp = FINISHED.check_by_id["sharp-edges"]
    after = change(
        "sharp-edges", caution=None, how={k: v for k, v in sharp.how.items() if k != "fr"}
    )
    found = list_changes(FINISHED, after, WORDS)
    assert [one.is_loss for one in found] == [True] * 4
    assert any("Caution (English): deleted; it was “Use the rag" in one.text for one in found)
    assert any("How it is done (Français): deleted" in one.text for one in found)


def test_key_point_is_told_with_its_number_and_language():
    before = next(one for one in SHIPPED if one.id == "cladding")
    step = before.step_by_id["cut-door-opening"]
    first = step.key_points[0]
    points = (first.model_copy(update={"why": {**first.why, "en": "Because"}}),)
    steps = tuple(
        step.model_copy(update={"key_points": points}) if one is step else one
        for one in before.steps
    )
    told = tell(before, before.model_copy(update={"steps": steps}))
    assert told[0].startswith("Key point 1, Why so (English): now “Because”; before “An opening")
    assert "Key point 2, What to do (English): deleted; it was “Measure at half" in told[1]
    assert len(told) == 7


def test_retired_check_takes_its_caution_along_in_words():
    checks = tuple(one for one in FINISHED.checks if one.id != "leg-load")
    told = tell(FINISHED, FINISHED.model_copy(update={"checks": checks}))
    assert told[0] == "This check is retired: nobody is asked it any more"
    assert told[1].startswith("Its caution goes with it: “Feet clear")


def test_new_check_is_told_with_everything_in_it():
    checks = tuple(one for one in FINISHED.checks if one.id != "door-opening-width")
    told = tell(FINISHED.model_copy(update={"checks": checks}), FINISHED)
    assert told[0] == "New check"
    assert "Severity: major" in told and "Part: Door opening" in told
    assert "Limits, size medium: at least 97 mm, target 100 mm, at most 103 mm" in told


@pytest.mark.parametrize(
    ("new", "moved"),
    [
        ("abcd", []),
        ("bacd", [("b", "")]),
        ("bcda", [("a", "d")]),
        ("dabc", [("d", "")]),
        ("axbcd", []),
        ("acd", []),
    ],
)
def test_as_few_moves_as_can_be(new, moved):
    found = find_moved("abcd", new)
    assert len(found) == len(moved)
    if moved and new != "bacd":
        assert found == moved
