"""A code keeps its meaning: one that an older revision used is not given to something else.

Figures put a check's, a fault's and a step's records together by its code, whatever the revision.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import Text, text_of


def find_reused_codes(
    older: Sequence[Checklist], current: Checklist | None, new: Checklist
) -> list[tuple[str, Text]]:
    """(key, what the code was used for) of each code of `new` that the current revision has not,
    that an older one had, and that meant something else there. older: the newest first.
    """
    here = dict(_list_meanings(current)) if current else {}
    before: dict[str, tuple[Any, Text]] = {}
    for one in older:
        for key, meaning in _list_meanings(one):
            before.setdefault(key, meaning)
    return [
        (key, before[key][1])
        for key, meaning in _list_meanings(new)
        if key not in here and key in before and before[key][0] != meaning[0]
    ]


def list_taken_codes(checklists: Iterable[Checklist]) -> dict[str, frozenset[str]]:
    """Codes that have been used, by what they name: checks, steps, parts, tools, and the faults and
    options of each check (faults.CHECK).
    """
    found: dict[str, set[str]] = {}
    for one in checklists:
        for group in ("checks", "steps", "parts", "tools"):
            found.setdefault(group, set()).update(item.id for item in getattr(one, group))
        for check in one.checks:
            for group in ("faults", "options"):
                ids = {item.id for item in getattr(check, group, ())}
                found.setdefault(f"{group}.{check.id}", set()).update(ids)
    return {key: frozenset(ids) for key, ids in found.items()}


def _list_meanings(checklist: Checklist) -> Iterator[tuple[str, tuple[Any, Text]]]:
    """(key, (what may not differ, its words)). A better translation changes no meaning."""
    for check in checklist.checks:
        unit = check.unit if isinstance(check, NumberCheck) else ""
        key = f"checks.{check.id}"
        yield key, ((check.kind, unit, _plain(check.ask)), text_of(check.ask))
        for fault in check.faults:
            yield f"{key}.faults.{fault.id}", (_plain(fault.title), text_of(fault.title))
        for option in getattr(check, "options", ()):
            meaning = (option.verdict, _plain(option.title))
            yield f"{key}.choice.options.{option.id}", (meaning, text_of(option.title))
    for step in checklist.steps:
        yield f"steps.{step.id}", (_plain(step.title), text_of(step.title))


def _plain(words: Mapping[str, str]) -> str:
    return " ".join(words["en"].casefold().split())
