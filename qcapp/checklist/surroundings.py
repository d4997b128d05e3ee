"""What one check of a checklist may refer to elsewhere in it."""

from dataclasses import dataclass

from qcapp.checklist.source import Node


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
