"""Calculated checks: a written sum becomes a small JSON tree that server and phone walk alike.

Tree: a number | ["input", check_id] | ["+" | "-" | "*" | "/", a, b] | ["neg", a]
    | ["sqrt" | "abs", a] | ["min" | "max", a, b, ...]
Everything is worked out in binary64, in the order of the tree, so both sides get equal bits.
"""

import ast
import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from qcapp.errors import BadInput

Tree = Any

LONGEST_TEXT = 200
DEEPEST_TREE = 60
GREATEST_NUMBER = 10**9
ALLOWED = "use + - * /, brackets, numbers, your input names, min, max, abs, sqrt and pi"

OPERATORS: dict[type, str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
FUNCTIONS = {"sqrt": 1, "abs": 1, "min": 2, "max": 2}
RESERVED = frozenset(FUNCTIONS) | {"pi"}
NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?")


class ExpressionError(BadInput):
    """The written sum is refused; `column` counts from 1."""

    def __init__(self, what: str, column: int, todo: str = ALLOWED) -> None:
        self.column = column
        super().__init__(what, f"column {column}", todo)


def compile_expression(text: str, inputs: Mapping[str, str]) -> Tree:
    """Turn `width * height / 100` into a tree; inputs: {name in the text: check id}.

    Raises ExpressionError with the column of the first thing that is not allowed.
    """
    if len(text) > LONGEST_TEXT:
        raise ExpressionError(
            f"longer than {LONGEST_TEXT} characters", LONGEST_TEXT + 1, "shorten it"
        )
    try:
        parsed = ast.parse(text, mode="eval")
    except SyntaxError as error:
        raise ExpressionError("not a sum that can be read", error.offset or 1) from error
    except (ValueError, RecursionError, MemoryError) as error:
        raise ExpressionError("not a sum that can be read", 1) from error
    tree = _compile_node(parsed.body, text, inputs)
    if not is_tree(tree, set(inputs.values())):
        raise ExpressionError("nested too deep", 1, "shorten it")
    return tree


def _compile_node(node: ast.expr, text: str, inputs: Mapping[str, str]) -> Tree:
    match node:
        case ast.BinOp(left=left, op=op, right=right) if type(op) in OPERATORS:
            return [
                OPERATORS[type(op)],
                _compile_node(left, text, inputs),
                _compile_node(right, text, inputs),
            ]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return ["neg", _compile_node(operand, text, inputs)]
        case ast.Constant():
            return _compile_number(node, text)
        case ast.Name(id="pi"):
            return math.pi
        case ast.Name(id=name) if name in inputs:
            return ["input", inputs[name]]
        case ast.Name(id=name):
            raise ExpressionError(
                f"'{name}' is not among the inputs", _column(node), "name it under inputs"
            )
        case ast.Call(func=ast.Name(id=name), args=args, keywords=[]) if name in FUNCTIONS:
            return _compile_call(node, name, [_compile_node(part, text, inputs) for part in args])
    raise ExpressionError("not allowed here", _column(node))


def _compile_number(node: ast.Constant, text: str) -> int | float:
    # Python also reads 1_000, 0x10, 1e9 and True; a person copying a drawing means none of them.
    written = ast.get_source_segment(text, node) or ""
    if not NUMBER.fullmatch(written) or not isinstance(node.value, int | float):
        raise ExpressionError("not a plain number", _column(node), "write it like 100 or 0.5")
    if node.value > GREATEST_NUMBER:
        raise ExpressionError(
            "the number is too large", _column(node), f"at most {GREATEST_NUMBER}"
        )
    return node.value


def _compile_call(node: ast.Call, name: str, args: list[Tree]) -> Tree:
    wanted = FUNCTIONS[name]
    if len(args) < wanted or (wanted == 1 and len(args) > 1):
        count = "one value" if wanted == 1 else "two values or more"
        raise ExpressionError(
            f"{name} takes {count}", _column(node), "add or remove values in its brackets"
        )
    return [name, *args]


def _column(node: ast.expr) -> int:
    return node.col_offset + 1


def is_tree(tree: Tree, input_ids: set[str], depth: int = 0) -> bool:
    """True for a tree as described on top whose inputs are all among input_ids."""
    if isinstance(tree, int | float):
        return not isinstance(tree, bool) and abs(tree) <= GREATEST_NUMBER
    if not isinstance(tree, list | tuple) or len(tree) < 2 or depth > DEEPEST_TREE:
        return False
    head, *rest = tree
    if head == "input":
        return len(rest) == 1 and isinstance(rest[0], str) and rest[0] in input_ids
    if head in ("+", "-", "*", "/"):
        fits = len(rest) == 2
    else:
        fits = (head in ("neg", "sqrt", "abs") and len(rest) == 1) or (
            head in ("min", "max") and len(rest) > 1
        )
    return fits and all(is_tree(part, input_ids, depth + 1) for part in rest)


def evaluate(tree: Tree, values: Mapping[str, float | None]) -> float | None:
    """The tree's value for {check_id: value}.

    None where an input is missing, and where there is no finite answer (division by zero,
    root of a negative number, overflow).
    """
    if isinstance(tree, int | float):
        return float(tree)
    head, *rest = tree
    if head == "input":
        value = values.get(rest[0])
        return None if value is None else float(value)
    parts = [evaluate(part, values) for part in rest]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    try:
        result = OPERATIONS[head](*known)
    except (ZeroDivisionError, ValueError):
        return None
    return result if math.isfinite(result) else None


OPERATIONS: dict[str, Callable[..., float]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "neg": lambda a: -a,
    "sqrt": math.sqrt,
    "abs": abs,
    "min": min,
    "max": max,
}
