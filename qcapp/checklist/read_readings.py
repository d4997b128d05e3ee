"""Reads the blocks of the kinds that a person measures or counts: measure, count and readings."""

from decimal import ROUND_UP, Decimal
from typing import Any, get_args

from qcapp.checklist.base_check import Statistic
from qcapp.checklist.fields import Fields, json_number
from qcapp.checklist.kind_block import Block
from qcapp.checklist.photo import read_photo
from qcapp.checklist.scale import nodes_by_size, read_scale
from qcapp.checklist.source import Node, Problems
from qcapp.i18n.phrase import phrase

MAX_READINGS = 12


def read_measure(block: Block) -> dict[str, Any]:
    """One reading; of a doubtful one the mean of two, by limits of its own."""
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


def read_count(block: Block) -> dict[str, Any]:
    """A whole number, such as holes; rows: how many in each row of the pattern, by size."""
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


def read_readings(block: Block) -> dict[str, Any]:
    """Several readings of which one figure counts."""
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
