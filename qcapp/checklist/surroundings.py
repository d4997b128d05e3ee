"""What one check of a checklist may refer to elsewhere in it, found by its id."""

from dataclasses import dataclass

from qcapp.checklist.source import Node, Problems
from qcapp.i18n.phrase import phrase


@dataclass(frozen=True)
class Surroundings:
    """By id: the parts, steps and tools where they stand, and the kind of each check. earlier: the
    stages that the checklist goes on from.
    """

    sizes: list[str]
    parts: dict[str, Node]
    steps: dict[str, Node]
    tools: dict[str, Node]
    kinds: dict[str, str]
    earlier: list[str]


def index_by_id(nodes: list[Node], problems: Problems) -> dict[str, Node]:
    """{id: node}; a second use of an id is a problem."""
    found: dict[str, Node] = {}
    for node in nodes:
        child = node.value.get("id") if isinstance(node.value, dict) else None
        if child is None or not isinstance(child.value, str):
            continue
        if child.value in found:
            first = found[child.value].line
            problems.add(
                child,
                phrase("id '%(value)s' appears twice", value=child.value),
                phrase("choose another; the first is on line %(first)s", first=first),
            )
        else:
            found[child.value] = node
    return found
