"""A checklist written back as YAML is the same checklist: same hash, every kind, every sum."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.checklist.expression import LONGEST_TEXT, compile_expression, is_tree
from qcapp.checklist.load import load_checklist, read_text
from qcapp.checklist.write import as_source, write_expression, write_yaml
from tests.checklist.small import write_small

FOLDER = Path(__file__).parents[2] / "checklists"
NAMES = {"door-width": "door_width", "b": "b"}
LEAVES = st.one_of(
    st.integers(0, 10**6),
    st.sampled_from([0.1, 2.5, 0.000012, 123456.789]),
    st.sampled_from([["input", "door-width"], ["input", "b"]]),
)
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.tuples(st.sampled_from("+-*/"), inner, inner).map(list),
        st.tuples(st.sampled_from(["neg", "sqrt", "abs"]), inner).map(list),
        st.tuples(st.sampled_from(["min", "max"]), inner, inner, inner).map(list),
    ),
    max_leaves=8,
)


def again(checklist, folder):
    text = write_yaml(as_source(checklist.compiled()))
    made, errors = read_text(text, "again.yaml", folder)
    assert errors == []
    return made, text


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_shipped_checklist_keeps_its_hash(path):
    checklist = load_checklist(path)
    made, text = again(checklist, FOLDER)
    assert made.hash == checklist.hash and write_yaml(as_source(made.compiled())) == text


def test_every_kind_and_hard_words_keep_their_hash(tmp_path):
    path = write_small(
        tmp_path,
        ("ask: {en: Swings}", 'ask: {en: "no", fr: "12", pt: "a: b # c\\u2028{d} \\"e\\""}'),
    )
    checklist = load_checklist(path)
    made, _text = again(checklist, tmp_path)
    assert (
        made.hash == checklist.hash
        and made.checks[0].ask["en"] == "no"
        and made.checks[0].ask["fr"] == "12"
    )


@given(TREES)
def test_every_sum_is_read_as_it_was_written(tree):
    text = write_expression(tree, NAMES)
    if len(text) <= LONGEST_TEXT and is_tree(tree, set(NAMES)):
        assert compile_expression(text, {name: check for check, name in NAMES.items()}) == tree


def test_brackets_stand_only_where_they_are_needed():
    a, b = ["input", "b"], ["input", "door-width"]
    assert (
        write_expression(["-", ["-", a, b], ["*", a, b]], NAMES)
        == "b - door_width - b * door_width"
    )
    assert write_expression(["-", a, ["-", a, b]], NAMES) == "b - (b - door_width)"
    assert write_expression(["/", ["neg", ["+", a, 1]], 2], NAMES) == "-(b + 1) / 2"
