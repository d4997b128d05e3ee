"""Reads the block of a check that is named after its kind: tick, measure, count, readings, choice,
calculated.

Each reader gives the keys of the compiled check that belong to the kind.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from typing import Any, get_args

from qcapp.checklist.base_check import Statistic
from qcapp.checklist.check_kinds import NUMBER_KINDS
from qcapp.checklist.expression import RESERVED, ExpressionError, Tree, compile_expression
from qcapp.checklist.fields import Fields, json_number, suggest
from qcapp.checklist.photo import read_photo
from qcapp.checklist.scale import nodes_by_size, read_scale
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings
from qcapp.i18n.phrase import phrase

MAX_READINGS = 12


@dataclass(frozen=True)
class Block:
    """What a reader is given: the block's keys, the ids of the check's faults, what is around."""

    fields: Fields
    fault_ids: set[str]
    around: Surroundings


def read_kind(
    kind: str, block: Node, fault_ids: set[str], around: Surroundings, problems: Problems
) -> dict[str, Any]:
    """The compiled keys of that kind; what is wrong goes to problems."""
    fields = Fields(block, problems)
    read = READERS[kind](Block(fields, fault_ids, around))
    fields.finish()
    return read


def _read_measure(block: Block) -> dict[str, Any]:
    fields, around = block.fields, block.around
    repeatability = fields.number("repeatability", required=False)
    scale = read_scale(fields, around)
    scale |= read_photo(fields, scale["unit"])
    if repeatability is None:
        return scale
    uncertainty = Decimal(str(scale["uncertainty"]))
    if not 0 <= repeatability <= uncertainty:
        place = fields.children["repeatability"]
        fields.problems.add(
            place,
            phrase("not between 0 and the uncertainty %(uncertainty)s", uncertainty=uncertainty),
            phrase("it is the part of the uncertainty that differs from reading to reading"),
        )
        return scale
    band = Decimal(str(scale.get("guard_factor", 1))) * mean_uncertainty(uncertainty, repeatability)
    for limits in scale["limits"].values():
        for name, limit, side in (
            ("twice_lower", limits["lower"], 1),
            ("twice_upper", limits["upper"], -1),
        ):
            if limit is not None:
                limits[name] = json_number(Decimal(str(limit)) + side * band)
    return {**scale, "repeatability": json_number(repeatability)}


def mean_uncertainty(uncertainty: Decimal, repeatability: Decimal) -> Decimal:
    """Expanded uncertainty (k = 2) of the mean of two readings, rounded up to a millionth.

    Only what differs from one reading to the next is halved in variance (JCGM 100:2008, 4.2.3);
    a worn or badly marked rule is as wrong the second time.
    """
    return (uncertainty**2 - repeatability**2 / 2).sqrt().quantize(Decimal("0.000001"), ROUND_UP)


def _read_count(block: Block) -> dict[str, Any]:
    fields, around = block.fields, block.around
    scale = read_scale(fields, around, is_count=True)
    scale |= read_photo(fields, scale["unit"], is_count=True)
    rows_node = fields.find("rows", required=False)
    if rows_node is None:
        return scale
    rows = {}
    for size, node in nodes_by_size(rows_node, around, fields.problems, must_be_all=False).items():
        rows[size] = _read_rows(node, (scale["limits"] or {}).get(size), fields.problems)
    return {**scale, "rows": rows}


def _read_rows(node: Node, limits: dict[str, Any] | None, problems: Problems) -> list[int]:
    given = [item.value for item in node.value] if isinstance(node.value, list) else []
    values = [int(value) for value in given if isinstance(value, Decimal) and _is_whole(value)]
    if not values or len(values) < len(given):
        problems.add(
            node, phrase("rows are whole numbers from 1"), phrase("write them like [3, 4, 5, 4, 3]")
        )
        return []
    total = sum(values)
    exact = limits and limits["lower"] == limits["upper"] == limits["nominal"]
    if limits and not exact:
        problems.add(
            node,
            phrase("rows are given, but the count has no exact limit"),
            phrase("make lower, nominal and upper equal"),
        )
    elif limits and total != limits["nominal"]:
        problems.add(
            node,
            phrase(
                "the rows add up to %(total)s, the count is %(nominal)s",
                total=total,
                nominal=limits["nominal"],
            ),
            phrase("correct the rows or the count"),
        )
    return values


def _is_whole(value: Decimal) -> bool:
    return value == int(value) and value > 0


def _read_readings(block: Block) -> dict[str, Any]:
    fields = block.fields
    scale = read_scale(fields, block.around)
    n = fields.whole("n", minimum=2)
    if n is not None and n > MAX_READINGS:
        fields.problems.add(
            fields.children["n"],
            phrase("more than %(max_readings)s readings", max_readings=MAX_READINGS),
            phrase("ask for fewer"),
        )
    by = fields.one_of("by", get_args(Statistic))
    labels = [fields.as_words(item) for item in fields.items("labels")]
    if n is not None and labels and len(labels) != n:
        fields.problems.add(
            fields.children["labels"],
            phrase("%(labels)s labels for %(n)s readings", labels=len(labels), n=n),
            phrase("give one label for each"),
        )
    gauge = _read_gauge(fields, by, scale["limits"] or {})
    photo = read_photo(fields, scale["unit"], by)
    return {**scale, **photo, "n": n, "by": by, "labels": labels, "gauge": gauge}


def _read_gauge(fields: Fields, by: str | None, limits: dict[str, dict[str, Any]]) -> bool | None:
    """A gauge has one end: it stands for "each at least" or "each at most"."""
    node = fields.find("gauge", required=False)
    if node is None:
        return None
    other = {"smallest": "upper", "largest": "lower"}.get(by or "")
    if not isinstance(node.value, bool):
        fields.problems.add(node, phrase("true or false is expected"), phrase("write true"))
    elif node.value and (
        other is None or any(one.get(other) is not None for one in limits.values())
    ):
        fields.problems.add(
            node,
            phrase("a gauge stands for one limit of the smallest or the largest reading"),
            phrase("remove the line, or the other limit"),
        )
    return True if node.value is True else None


def _read_choice(block: Block) -> dict[str, Any]:
    fields, options = block.fields, []
    seen: set[str | None] = set()
    for node in fields.items("options"):
        option = _read_option(node, block)
        if option["id"] in seen:
            fields.problems.add(
                node,
                phrase("option '%(id)s' appears twice", id=option["id"]),
                phrase("give it another id"),
            )
        seen.add(option["id"])
        options.append(option)
    for verdict in ("pass", "fail"):
        if options and verdict not in [option["verdict"] for option in options]:
            fields.problems.add(
                fields.children["options"],
                phrase("no option with verdict %(verdict)s", verdict=verdict),
                phrase("add one"),
            )
    return {"options": options}


def _read_option(node: Node, block: Block) -> dict[str, Any]:
    problems = block.fields.problems
    item = Fields(node, problems)
    option = {
        "id": item.id(),
        "title": item.words("title"),
        "verdict": item.one_of("verdict", ("pass", "fail")),
        "picture": item.picture(),
    }
    fault = item.text("fault", required=False)
    item.finish()
    if fault is not None and fault not in block.fault_ids:
        problems.add(
            node,
            phrase("fault '%(fault)s' is not in the check's faults", fault=fault),
            suggest(fault, block.fault_ids),
            "fault",
        )
    return {**option, "fault": fault}


def _read_calculated(block: Block) -> dict[str, Any]:
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


READERS: dict[str, Callable[[Block], dict[str, Any]]] = {
    "tick": lambda _block: {},
    "measure": _read_measure,
    "count": _read_count,
    "readings": _read_readings,
    "choice": _read_choice,
    "calculated": _read_calculated,
}


def find_kind(node: Node) -> str:
    """The kind of a check by the first block that it has; empty where it has none."""
    keys = node.value if isinstance(node.value, dict) else {}
    return next((name for name in READERS if name in keys), "")
