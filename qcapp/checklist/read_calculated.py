"""Reads the block of a calculated check: its inputs by name, and the formula over them."""

from typing import Any

from qcapp.checklist.check_kinds import NUMBER_KINDS
from qcapp.checklist.expression import RESERVED, ExpressionError, Tree, compile_expression
from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.kind_block import Block
from qcapp.checklist.scale import read_scale
from qcapp.checklist.surroundings import Surroundings
from qcapp.i18n.phrase import phrase


def read_calculated(block: Block) -> dict[str, Any]:
    """A number that nobody types: a formula over other checks."""
    fields = block.fields
    scale = read_scale(fields, block.around)
    inputs = _read_inputs(fields, block.around)
    text = fields.text("expression")
    tree = _compile_sum(fields, text, inputs) if text is not None and inputs else 0
    return {**scale, "inputs": list(dict.fromkeys(inputs.values())), "expression": tree}


def _compile_sum(fields: Fields, text: str, inputs: dict[str, str]) -> Tree:
    try:
        tree = compile_expression(text, inputs)
    except ExpressionError as error:
        fields.problems.add(
            fields.children["expression"],
            phrase(
                "%(what)s at column %(column)s of the formula", what=error.what, column=error.column
            ),
            error.todo,
        )
        return 0
    used = _inputs_in(tree)
    for name in sorted(name for name, check in inputs.items() if check not in used):
        fields.problems.add(
            fields.children["inputs"],
            phrase("input '%(name)s' is not used", name=name),
            phrase("use it or remove it"),
            name,
        )
    return tree


def _inputs_in(tree: Any) -> set[str]:
    if not isinstance(tree, list):
        return set()
    return (
        {tree[1]} if tree[0] == "input" else set().union(*(_inputs_in(part) for part in tree[1:]))
    )


def _read_inputs(fields: Fields, around: Surroundings) -> dict[str, str]:
    node, problems = fields.find("inputs"), fields.problems
    if node is None or not isinstance(node.value, dict) or not node.value:
        if node is not None:
            problems.add(
                node,
                phrase("names of inputs are expected"),
                phrase("write {width: door-opening-width}"),
            )
        return {}
    for name, child in node.value.items():
        if not name.isidentifier() or not name.isascii() or name in RESERVED:
            problems.add(
                child,
                phrase("'%(name)s' is not a valid name of an input", name=name),
                phrase("use letters only, other than min, max, abs, sqrt, pi"),
            )
        kind = around.kinds.get(str(child.value))
        if kind is None:
            problems.add(
                child,
                phrase("check '%(value)s' is not known", value=child.value),
                suggest(str(child.value), around.kinds),
            )
        elif kind not in NUMBER_KINDS:
            problems.add(
                child,
                phrase(
                    "check '%(value)s' gives no number (%(kind)s)", value=child.value, kind=kind
                ),
                phrase("use a check of one of these kinds: %(kinds)s", kinds=NUMBER_KINDS),
            )
    return {name: str(child.value) for name, child in node.value.items()}
