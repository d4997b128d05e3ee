"""Reads what checks name or offer: parts and tools, steps with their key points, faults."""

from typing import Any

from qcapp.checklist.fields import Fields
from qcapp.checklist.items import MAX_KEY_POINTS
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import index_by_id
from qcapp.i18n.phrase import phrase


def read_part(node: Node, problems: Problems) -> dict[str, Any]:
    """The compiled keys of a part, or of a tool; what is wrong goes to problems."""
    fields = Fields(node, problems)
    part = {"id": fields.id(), "title": fields.words("title")}
    fields.finish()
    return part


def read_step(node: Node, problems: Problems) -> dict[str, Any]:
    """The compiled keys of a step; what is wrong goes to problems."""
    fields = Fields(node, problems)
    step: dict[str, Any] = {
        "id": fields.id(),
        "trade": fields.id("trade"),
        "title": fields.words("title"),
    }
    if fields.find("rework_minutes", required=False):
        step["rework_minutes"] = fields.whole("rework_minutes", 1)
    nodes = fields.items("key_points", required=False)
    if len(nodes) > MAX_KEY_POINTS:
        problems.add(
            fields.children["key_points"],
            phrase("more than %(most)s key points", most=MAX_KEY_POINTS),
            phrase("keep the most important"),
        )
    if nodes:
        step["key_points"] = [_read_key_point(point, problems) for point in nodes]
    fields.finish()
    return step


def _read_key_point(node: Node, problems: Problems) -> dict[str, Any]:
    fields = Fields(node, problems)
    point = {"do": fields.words("do"), "why": fields.words("why")}
    fields.finish()
    return point


def read_faults(fields: Fields, is_number: bool) -> list[dict[str, Any]]:
    """The compiled faults of a check, whose fields these are. is_number: whether it has a side."""
    faults, nodes = [], fields.items("faults")
    for node in nodes:
        item = Fields(node, fields.problems)
        side = item.one_of("side", ("below", "above"), required=False)
        if side and not is_number:
            fields.problems.add(
                node, phrase("side is for numbers only"), phrase("remove it"), "side"
            )
        faults.append(
            {
                "id": item.id(),
                "title": item.words("title"),
                "side": side,
                "picture": item.picture(),
            }
        )
        item.finish()
    index_by_id(nodes, fields.problems)
    return faults
