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
    """The piece `stove_key` is, or holds, what was inspected at `stage` as `from_key`."""

    stove_key: str
    stage: str
    from_key: str


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
    found: dict[str, str] = {}
    for inspection in state["inspections"]:
        checklist = checklists[inspection["checklist_hash"]]
        found |= {earlier: f"{earlier}/{serial}" for earlier in checklist.same_serial}
        entered = inspection["body"].get("made_from") or {}
        found |= {earlier: stove_key(earlier, typed) for earlier, typed in entered.items()}
    return [MadeFrom(key, earlier, found[earlier]) for earlier in sorted(found) if earlier != stage]


def find_disputed(links: Iterable[MadeFrom]) -> dict[str, list[str]]:
    """{piece: those that claim it} where several do: at most one of them can be right."""
    claims: dict[str, list[str]] = {}
    for link in links:
        if link.stage != LOAD_STAGE:
            claims.setdefault(link.from_key, []).append(link.stove_key)
    return {piece: sorted(by) for piece, by in sorted(claims.items()) if len(by) > 1}


def join_pieces(keys: Iterable[str], links: Iterable[MadeFrom]) -> list[list[str]]:
    """The articles that are one piece, together; keys: those that are there, in any order.

    A link to what is not there, to a kiln load, or disputed joins nothing.
    """
    kept = list(links)
    root = {key: key for key in keys}

    def find(key: str) -> str:
        while root[key] != key:
            root[key] = root[root[key]]
            key = root[key]
        return key

    disputed = find_disputed(kept)
    for link in kept:
        is_one = link.stage != LOAD_STAGE and link.from_key not in disputed
        if is_one and link.stove_key in root and link.from_key in root:
            root[find(link.from_key)] = find(link.stove_key)
    pieces: dict[str, list[str]] = {}
    for key in root:
        pieces.setdefault(find(key), []).append(key)
    return list(pieces.values())
