"""Reads a whole checklist from its nodes: the keys of its own, and each list by its reader."""

from typing import Any

from qcapp.checklist.check_kinds import is_for_first_piece
from qcapp.checklist.consistency import find_inconsistencies
from qcapp.checklist.drawing import Drawings
from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.read_check import read_check
from qcapp.checklist.read_items import read_part, read_step
from qcapp.checklist.read_kind import find_kind
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings, index_by_id
from qcapp.i18n.phrase import phrase


def read_checklist(root: Node, drawings: Drawings, problems: Problems) -> dict[str, Any]:
    """The compiled shape of a whole file; what is wrong goes to problems."""
    fields = Fields(root, problems)
    draft: dict[str, Any] = {
        "id": fields.id(),
        "revision": fields.whole("revision", minimum=1),
        "title": fields.words("title"),
        "stage": fields.id("stage"),
        **(earlier := _read_earlier(fields)),
        "drawing": fields.text("drawing"),
        "sizes": [fields.as_id(node) for node in fields.items("sizes")],
    }
    first = fields.items("first_piece", required=False)
    parts, steps, checks = (fields.items(name) for name in ("parts", "steps", "checks"))
    tools = fields.items("tools", required=False)
    fields.finish()
    draft["tools"] = [read_part(node, problems) for node in tools]
    draft["parts"] = [read_part(node, problems) for node in parts]
    draft["steps"] = [read_step(node, problems) for node in steps]
    around = Surroundings(
        sizes=[size for size in draft["sizes"] if size],
        parts=index_by_id(parts, problems),
        steps=index_by_id(steps, problems),
        tools=index_by_id(tools, problems),
        kinds={name: find_kind(node) for name, node in index_by_id(checks, problems).items()},
        earlier=[stage for stages in earlier.values() for stage in stages],
    )
    if len(set(around.sizes)) < len(around.sizes):
        problems.add(fields.children["sizes"], phrase("a size appears twice"), phrase("keep one"))
    draft["checks"] = [read_check(node, around, problems) for node in checks]
    draft["first_piece"] = _read_first_piece(first, draft["checks"], around, problems)
    find_inconsistencies(draft, fields, checks, around, drawings)
    return draft


def _read_first_piece(
    nodes: list[Node], checks: list[dict[str, Any]], around: Surroundings, problems: Problems
) -> list[str]:
    """A first piece gets the critical and the measured checks of its step, so it must have one."""
    taken = {
        check["step"]
        for check in checks
        if is_for_first_piece(check["severity"], check.get("kind"))
    }
    for place, node in enumerate(nodes):
        name = str(node.value)
        if name not in around.steps:
            problems.add(
                node,
                phrase("step '%(value)s' is not known", value=name),
                suggest(name, around.steps),
            )
        elif name not in taken:
            problems.add(
                node,
                phrase("step '%(value)s' has no critical and no measured check", value=name),
                phrase("a first piece gets these; remove the step here"),
            )
        elif name in [str(one.value) for one in nodes[:place]]:
            problems.add(
                node, phrase("step '%(value)s' is there twice", value=name), phrase("keep one")
            )
    return [str(node.value) for node in nodes]


def _read_earlier(fields: Fields) -> dict[str, list[str]]:
    """Stages that this one goes on from: of pieces built in, and of this piece itself."""
    found: dict[str, list[str]] = {}
    stage = fields.children.get("stage")
    taken = {stage.value} if stage and isinstance(stage.value, str) else set()
    for name in ("made_from", "same_serial"):
        nodes = fields.items(name, required=False)
        for node in nodes:
            if isinstance(node.value, str) and node.value in taken:
                fields.problems.add(
                    node,
                    phrase("stage '%(value)s' is there twice", value=str(node.value)),
                    phrase("name every earlier stage once, and not the checklist's own"),
                )
            taken.add(str(node.value))
        found[name] = [known for node in nodes if (known := fields.as_id(node))]
    return found
