"""One piece at several stages: which liner went into which stove.

A stove keeps its serial from the cladding on (`same_serial` of the checklist); what is built in has
a serial of its own, which the inspector may enter (`made_from` of the inspection).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from qcapp.checklist.model import Checklist
from qcapp.inspection.event import stove_key

# At this stage a whole kiln load is inspected: many pieces come from one.
LOAD_STAGE = "firing"


class MadeFrom(NamedTuple):
    """The piece `stove_key` is, or holds, what was inspected at `stage` as `from_key`; from_serial:
    as it was typed.
    """

    stove_key: str
    stage: str
    from_key: str
    from_serial: str


@dataclass(frozen=True)
class Article:
    """What one stage inspected under one serial. is_good: no check failed at first pass; is_whole:
    none was left out there, or one failed all the same.
    """

    key: str
    checklist: str
    is_good: bool
    is_whole: bool


def find_made_from(
    key: str, state: Mapping[str, Any], checklists: Mapping[str, Checklist]
) -> list[MadeFrom]:
    """Of a folded stove. What was entered last stands; checklists: by hash."""
    stage, _, serial = key.partition("/")
    found: dict[str, tuple[str, str]] = {}
    for inspection in state["inspections"]:
        for earlier in checklists[inspection["checklist_hash"]].same_serial:
            found[earlier] = (f"{earlier}/{serial}", inspection["stove"])
        for earlier, typed in (inspection["body"].get("made_from") or {}).items():
            found[earlier] = (stove_key(earlier, typed), typed)
    return [
        MadeFrom(key, earlier, *found[earlier]) for earlier in sorted(found) if earlier != stage
    ]


def join_pieces(links: Iterable[MadeFrom]) -> tuple[list[list[str]], list[list[str]]]:
    """(articles that are one piece, together; those whose links cannot all be true).

    A piece is one article at each stage: where two stoves claim one liner, or a stove is said to
    hold two, what was entered joins none of them. A kiln load is many pieces and joins none.
    """
    kept = [link for link in links if link.stage != LOAD_STAGE]
    contradictions = [sorted(group) for group in _group(kept) if _has_stage_twice(group)]
    denied = {key for group in contradictions for key in group}
    sure = [link for link in kept if link.from_key not in denied or _has_same_serial(link)]
    return [sorted(group) for group in _group(sure)], sorted(contradictions)


def _group(links: Iterable[MadeFrom]) -> list[list[str]]:
    root: dict[str, str] = {}

    def find(key: str) -> str:
        root.setdefault(key, key)
        while root[key] != key:
            root[key] = root[root[key]]
            key = root[key]
        return key

    for link in links:
        root[find(link.from_key)] = find(link.stove_key)
    groups: dict[str, list[str]] = {}
    for key in root:
        groups.setdefault(find(key), []).append(key)
    return list(groups.values())


def _has_stage_twice(group: Iterable[str]) -> bool:
    stages = [key.partition("/")[0] for key in group]
    return len(set(stages)) < len(stages)


def _has_same_serial(link: MadeFrom) -> bool:
    return link.stove_key.partition("/")[2] == link.from_key.partition("/")[2]
