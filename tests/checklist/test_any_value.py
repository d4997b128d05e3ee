"""Whatever stands in a checklist file, and wherever: it loads, or its errors are told in the order
of the file.
"""

import json

import pytest
import yaml

from qcapp.checklist.load import find_errors
from qcapp.i18n.catalogue import name_language
from tests.checklist.small import SVG, YAML, find_small_errors
from tests.odd_values import replace_at, walk_places

ANY_VALUE = [None, True, -1.5, "a\0b", [], [{"x": "y"}], {"x": ["y"]}]
# Keys that the small checklist has no use for.
MORE = {
    "made_from": ["fired-liner"],
    "same_serial": ["blanks"],
    "first_piece": ["cut-door"],
    "tools": [{"id": "rule", "title": {"en": "Rule"}}],
}
MORE_OF_A_CHECK = {
    "after": ["width"],
    "tool": "rule",
    "lasts": 3,
    "pictures": ["x.svg"],
    "may_not_apply": True,
    "should_be_caught_by": {"fired-liner": ["crack"]},
}


@pytest.fixture
def whole():
    small = {**yaml.safe_load(YAML), **MORE}
    first, *others = small["checks"]
    return {**small, "checks": [{**first, **MORE_OF_A_CHECK}, *others]}


@pytest.mark.slow
def test_any_value_in_any_place_is_told_and_breaks_nothing(whole, tmp_path):
    (tmp_path / "small.svg").write_text(SVG, encoding="utf-8")
    path = tmp_path / "small.yaml"
    refused = 0
    for place in walk_places(whole):
        for new in ANY_VALUE:
            odd = replace_at(whole, place, new)
            # JSON is YAML, and written faster.
            path.write_text(json.dumps(odd), encoding="utf-8")
            refused += bool(find_errors(path))
    assert refused > 1000


def test_errors_on_one_line_come_in_its_order(tmp_path):
    names = [f"size-{n}" for n in range(9, 0, -1)]
    row = ", ".join(f"{name}: {{lower: 1}}" for name in names)
    for old in ("limits: {all: {lower: 10}}", "limits: {medium: {lower: 97"):
        new = old.replace("{", "{" + row + ", ", 1)
        told = [one.key for one in find_small_errors(tmp_path, (old, new))]
        here = [key.rpartition(".")[2] for key in told if "size-" in key]
        assert here == names, told


def test_language_without_a_catalogue_goes_by_its_tag():

    assert [name_language(one) for one in ("fr", "sw")] == ["Français", "sw"]
