"""A checklist back into YAML: what a page changed, or what somebody wants to download.

Reading what is written here gives the same hash again; comments of the first file are not kept.
"""

import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from qcapp.checklist.expression import LONGEST_TEXT, Tree

PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_.-]*")
NOT_TEXT = ("true", "false", "null")
# What YAML does not take even within quotes.
UNPRINTABLE = re.compile("[\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")
OWN_KEYS = (
    "unit",
    "n",
    "by",
    "labels",
    "gauge",
    "photo",
    "figure",
    "expression",
    "inputs",
    "resolution",
    "uncertainty",
    "repeatability",
    "decision",
    "guard_factor",
    "possible",
    "limits",
    "rows",
    "options",
)
CHECK_KEYS = (
    "id",
    "part",
    "step",
    "severity",
    "when",
    "ask",
    "how",
    "picture",
    "caution",
    "asked_again",
    "should_be_caught_by",
    "may_not_apply",
    "lasts_seconds",
    "tool",
    "after",
)
LIMITS = ("lower", "nominal", "upper")
# How tightly a part of a sum holds together; what is not here needs no brackets.
BINDING = {"+": 1, "-": 1, "*": 2, "/": 2, "neg": 3}


def as_source(compiled: Mapping[str, Any]) -> dict[str, Any]:
    """The shape that stands in a YAML file, of a compiled checklist; its keys are those that errors
    name.
    """
    kept = {
        key: compiled[key]
        for key in (
            *("id", "revision", "title", "stage", "made_from", "same_serial"),
            *("drawing", "sizes", "first_piece", "tools", "parts", "steps"),
        )
        if key in compiled
    }
    return {**kept, "checks": [_as_check(check) for check in compiled["checks"]]}


def _as_check(check: Mapping[str, Any]) -> dict[str, Any]:
    kept = {key: check[key] for key in CHECK_KEYS if check.get(key)}
    faults = [
        {key: value for key, value in fault.items() if value is not None}
        for fault in check["faults"]
    ]
    return {**kept, check["kind"]: _as_block(check), "faults": faults, "basis": check["basis"]}


def _as_block(check: Mapping[str, Any]) -> dict[str, Any]:
    block = {key: check[key] for key in OWN_KEYS if key in check}
    if "limits" in block:
        block["limits"] = {
            size: {key: limits[key] for key in LIMITS if limits[key] is not None}
            for size, limits in block["limits"].items()
        }
    if "options" in block:
        block["options"] = [
            {key: value for key, value in option.items() if value is not None}
            for option in block["options"]
        ]
    if "expression" in block:
        names = {check_id: check_id.replace("-", "_") for check_id in block["inputs"]}
        if len(write_expression(block["expression"], names)) > LONGEST_TEXT:
            names = {check_id: f"x{place}" for place, check_id in enumerate(names, start=1)}
        block |= {
            "expression": write_expression(block["expression"], names),
            "inputs": {name: check_id for check_id, name in names.items()},
        }
    return block


def write_expression(tree: Tree, names: Mapping[str, str]) -> str:
    """The written sum of a tree; names: {check id: name in the text}. Brackets only where the sum
    needs them.
    """
    if isinstance(tree, int | float):
        return "pi" if tree == math.pi else _number(tree)
    head, *rest = tree
    if head == "input":
        return names[rest[0]]
    if head in ("min", "max", "sqrt", "abs"):
        return f"{head}({', '.join(write_expression(part, names) for part in rest)})"
    if head == "neg":
        return f"-{_bracket(rest[0], names, BINDING[head])}"
    left, right = rest
    # Sums are read from the left, so an equal operator on the right needs brackets.
    return (
        f"{_bracket(left, names, BINDING[head])} {head} {_bracket(right, names, BINDING[head] + 1)}"
    )


def _bracket(tree: Tree, names: Mapping[str, str], min_binding: int) -> str:
    text = write_expression(tree, names)
    binding = BINDING.get(tree[0], 9) if isinstance(tree, list | tuple) else 9
    return f"({text})" if binding < min_binding else text


def write_yaml(source: Mapping[str, Any]) -> str:
    """source: as of as_source; a Decimal, int or float is written as a number, a str as text."""
    return "\n".join(_write_mapping(source, "")) + "\n"


def _write_mapping(mapping: Mapping[str, Any], indent: str) -> Iterator[str]:
    for key, value in mapping.items():
        if _is_short(value):
            yield f"{indent}{_scalar(key)}: {_flow(value)}"
        elif isinstance(value, Mapping):
            yield f"{indent}{_scalar(key)}:"
            yield from _write_mapping(value, f"{indent}  ")
        else:
            yield f"{indent}{_scalar(key)}:"
            yield from _write_list(value, f"{indent}  ")


def _write_list(items: Iterable[Any], indent: str) -> Iterator[str]:
    for item in items:
        if _is_short(item):
            yield f"{indent}- {_flow(item)}"
        else:
            first, *others = _write_mapping(item, f"{indent}  ")
            yield f"{indent}- {first.lstrip()}"
            yield from others


def _is_short(value: Any) -> bool:
    """Whether it stands on one line: a scalar, or one level or two with few values."""
    if isinstance(value, Mapping):
        return len(value) < 5 and all(
            not isinstance(inner, Mapping | list | tuple) or (_is_flat(inner) and len(value) < 4)
            for inner in value.values()
        )
    return not isinstance(value, list | tuple) or all(
        not isinstance(inner, Mapping | list | tuple) for inner in value
    )


def _is_flat(value: Any) -> bool:
    inner = value.values() if isinstance(value, Mapping) else value
    return not any(isinstance(part, Mapping | list | tuple) for part in inner)


def _flow(value: Any) -> str:
    if isinstance(value, Mapping):
        return (
            "{" + ", ".join(f"{_scalar(key)}: {_flow(inner)}" for key, inner in value.items()) + "}"
        )
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_flow(inner) for inner in value) + "]"
    return _scalar(value)


def _scalar(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float | Decimal):
        return _number(value)
    text = str(value)
    if PLAIN.fullmatch(text) and text not in NOT_TEXT:
        return text
    quoted = json.dumps(text, ensure_ascii=False)
    return UNPRINTABLE.sub(lambda found: f"\\u{ord(found.group()):04x}", quoted)


def _number(value: int | float | Decimal) -> str:
    return format(Decimal(str(value)), "f")
