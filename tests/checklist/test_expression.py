"""Sums of a checklist: only arithmetic gets in, and it gives Python's own results."""

import json
import math
import re
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from qcapp.checklist.expression import (
    LONGEST_TEXT,
    ExpressionError,
    compile_expression,
    evaluate,
    is_tree,
)

INPUTS = {"width": "door-opening-width", "height": "door-opening-height"}
NAMES = {name: name for name in "abc"}


def work_out(text: str, **values: float | None) -> float | None:
    return evaluate(compile_expression(text, {name: name for name in values}), values)


def test_sum_becomes_the_tree_that_the_phone_walks() -> None:
    tree = compile_expression("width * height / 100", INPUTS)
    assert tree == [
        "/",
        ["*", ["input", "door-opening-width"], ["input", "door-opening-height"]],
        100,
    ]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2 + 3 * 4", 14),
        ("(2 + 3) * 4", 20),
        ("10 - 4 - 3", 3),
        ("-2 - -3", 1),
        ("7 / 2", 3.5),
        ("0.1 + 0.2", 0.1 + 0.2),
        ("min(3, 1, 2)", 1),
        ("max(3, 1, 2)", 3),
        ("abs(1 - 4)", 3),
        ("sqrt(16)", 4),
        ("pi * 2", math.tau),
    ],
)
def test_arithmetic_gives_its_usual_value(text: str, value: float) -> None:
    assert work_out(text) == value


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("1 / a", {"a": 0.0}),
        ("sqrt(a)", {"a": -1.0}),
        ("a * a", {"a": 1e200}),
        ("a + 1", {"a": None}),
        ("min(a, 1)", {"a": None}),
    ],
)
def test_sum_without_a_finite_answer_has_none(text: str, values: dict[str, float | None]) -> None:
    assert work_out(text, **values) is None


def test_input_that_was_not_given_leaves_no_answer() -> None:
    assert evaluate(compile_expression("width + 1", INPUTS), {}) is None


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("width ** 2", 1),
        ("width // 2", 1),
        ("width % 2", 1),
        ("1 + depth", 5),
        ("1 + width.real", 5),
        ("1 + width[0]", 5),
        ("1 + (lambda: 1)()", 5),
        ("1 + print(1)", 5),
        ("1 + __import__('os')", 5),
        ("1 + 'a'", 5),
        ("1 + 1_0", 5),
        ("1 + 0x1f", 5),
        ("1 + 1e3", 5),
        ("1 + 1j", 5),
        ("1 + True", 5),
        ("1 + 9999999999", 5),
        ("1 + +2", 5),
        ("1 + min(2)", 5),
        ("1 + sqrt(2, 3)", 5),
        ("1 + abs()", 5),
        ("1 + min(*width)", 9),
        ("1 + sqrt(x=2)", 5),
        ("1 < 2", 1),
        ("1 if 2 else 3", 1),
        ("[1]", 1),
        ("min", 1),
        ("-" * 80 + "1", 1),
        ("1" + " + 1" * 60, 201),
    ],
)
def test_anything_but_plain_arithmetic_is_refused_with_its_column(text: str, column: int) -> None:
    with pytest.raises(ExpressionError) as raised:
        compile_expression(text, INPUTS)
    assert raised.value.column == column
    assert raised.value.where == f"column {column}"


@pytest.mark.parametrize(
    "text", ["", "1 +", "1 + (2", "1 2", "width height", "a = 1", "1\n2", "\x00"]
)
def test_text_that_is_no_sum_is_refused(text: str) -> None:
    # Where Python places a syntax error differs between its versions, so only its being told
    # counts.
    with pytest.raises(ExpressionError, match="not a sum that can be read") as raised:
        compile_expression(text, INPUTS)
    assert raised.value.column >= 1


def test_brackets_alone_add_no_depth() -> None:
    assert work_out("(" * 50 + "1" + ")" * 50) == 1


numbers = st.integers(0, 10**6).map(str) | st.decimals(0, 1000, places=3).map(str)
leaves = numbers | st.sampled_from("abc")
sums = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(
            lambda parts: f"({parts[0]}{parts[1]}{parts[2]})"
        ),
        inner.map(lambda part: f"(-{part})"),
        inner.map(lambda part: f"abs({part})"),
        st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(
            lambda parts: f"{parts[0]}({parts[1]},{parts[2]})"
        ),
    ),
    max_leaves=8,
)


def eval_as_floats(text: str, values: dict[str, float]) -> float | None:
    """binary64 whose written numbers are binary64 too, as in the tree."""
    floats = re.sub(r"[0-9]+(\.[0-9]+)?", lambda match: repr(float(match.group())), text)
    try:
        value = eval(floats, {"__builtins__": {}}, {**values, "min": min, "max": max, "abs": abs})
    except ZeroDivisionError:
        return None
    return value if math.isfinite(value) else None


@given(text=sums, values=st.fixed_dictionaries({name: st.floats(-1e6, 1e6) for name in "abc"}))
def test_any_sum_has_the_very_bits_of_python_floats(text: str, values: dict[str, float]) -> None:
    assume(len(text) <= LONGEST_TEXT)
    tree = compile_expression(text, NAMES)
    assert is_tree(json.loads(json.dumps(tree)), set("abc"))
    assert evaluate(tree, values) == eval_as_floats(text, values)


@given(a=st.integers(1, 400), b=st.integers(1, 400), c=st.integers(1, 400))
def test_area_in_whole_millimetres_agrees_with_exact_fractions(a: int, b: int, c: int) -> None:
    exact = Fraction(a * b, 100) - Fraction(c, 8)
    assert math.isclose(
        work_out("a * b / 100 - c / 8", a=a, b=b, c=c), float(exact), rel_tol=1e-12, abs_tol=1e-9
    )


@pytest.mark.parametrize(
    "tree",
    [
        True,
        "1",
        None,
        [],
        ["input"],
        ["input", 1],
        ["input", "z"],
        ["+", 1],
        ["+", 1, 2, 3],
        ["neg", 1, 2],
        ["min", 1],
        ["pow", 1, 2],
        1e300,
    ],
)
def test_foreign_tree_is_refused(tree) -> None:
    assert not is_tree(tree, {"a"})


def test_endless_tree_is_refused() -> None:
    tree = 1
    for _ in range(10_000):
        tree = ["neg", tree]
    assert not is_tree(tree, set())
