"""Reads the block of a check that is named after its kind: tick, measure, count, readings, choice,
calculated.

Each reader gives the keys of the compiled check that belong to the kind.
"""

from collections.abc import Callable
from typing import Any

from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.kind_block import Block
from qcapp.checklist.read_calculated import read_calculated
from qcapp.checklist.read_readings import read_count, read_measure, read_readings
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings
from qcapp.i18n.phrase import phrase


def read_kind(
    kind: str, block: Node, fault_ids: set[str], around: Surroundings, problems: Problems
) -> dict[str, Any]:
    """The compiled keys of that kind; what is wrong goes to problems."""
    fields = Fields(block, problems)
    read = READERS[kind](Block(fields, fault_ids, around))
    fields.finish()
    return read


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


READERS: dict[str, Callable[[Block], dict[str, Any]]] = {
    "tick": lambda _block: {},
    "measure": read_measure,
    "count": read_count,
    "readings": read_readings,
    "choice": _read_choice,
    "calculated": read_calculated,
}


def find_kind(node: Node) -> str:
    """The kind of a check by the first block that it has; empty where it has none."""
    keys = node.value if isinstance(node.value, dict) else {}
    return next((name for name in READERS if name in keys), "")
