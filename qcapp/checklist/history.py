"""Every revision that figures rest on, and what is named together with its checklist.

An id of a check or step says nothing alone: several checklists may use it, each with its own
limits. A checklist's id names all its revisions.
"""

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Generic, NamedTuple, TypeVar

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check, ChoiceCheck
from qcapp.checklist.frozen_model import Text
from qcapp.checklist.items import KeyPoint, Step
from qcapp.checklist.model import Checklist

Judged = TypeVar("Judged", Check, Step)
# Of a check: its words, and what bears on no verdict.
_NOT_CRITERIA = {
    *("part", "step", "severity", "ask", "how", "caution", "basis", "faults", "picture"),
    *("asked_again", "should_be_caught_by"),
    *("labels", "possible", "options", "limits", "rows"),
}


class StepRef(NamedTuple):
    """A step as one checklist inspects it."""

    checklist: str
    step: str


class CheckRef(NamedTuple):
    checklist: str
    check: str


@dataclass(frozen=True)
class Criteria(Generic[Judged]):
    """Revisions of one checklist that judge a check (or every check of a step) alike.

    judged: as the newest of them has it; revisions: ascending; is_current: the revision in use is
    one of them.
    """

    checklist: str
    judged: Judged
    hashes: tuple[str, ...]
    revisions: tuple[int, ...]
    is_current: bool

    @property
    def key(self) -> str:
        """Short, for addresses."""
        return self.hashes[0][:8]


@dataclass(frozen=True)
class ChecklistHistory:
    """current: those in use; older: the other revisions that anything was judged by. By hash."""

    current: Mapping[str, Checklist]
    older: Mapping[str, Checklist]

    @cached_property
    def by_id(self) -> dict[str, list[tuple[str, Checklist]]]:
        """(hash, checklist) by id: the one in use first, then by revision, the newest first."""
        found: dict[str, list[tuple[str, Checklist]]] = {}
        older = sorted(self.older.items(), key=lambda item: (-item[1].revision, item[0]))
        for key, checklist in (*self.current.items(), *older):
            found.setdefault(checklist.id, []).append((key, checklist))
        return found

    @cached_property
    def current_by_id(self) -> dict[str, Checklist]:
        return {checklist.id: checklist for checklist in self.current.values()}

    @cached_property
    def titles(self) -> dict[str, Text]:
        """Of the checklists, by id."""
        return {name: revisions[0][1].title for name, revisions in self.by_id.items()}

    @cached_property
    def stages(self) -> dict[str, str]:
        return {name: revisions[0][1].stage for name, revisions in self.by_id.items()}

    @cached_property
    def stages_in_order(self) -> list[str]:
        """As the making goes: before each stage those that it goes on from, its own metal first."""
        earlier: dict[str, list[str]] = {}
        for one in self.current.values():
            earlier.setdefault(one.stage, []).extend((*one.same_serial, *one.made_from))
        found: dict[str, None] = {}

        def visit(stage: str, path: tuple[str, ...]) -> None:
            for before in earlier.get(stage, ()):
                if before not in path:
                    visit(before, (*path, before))
            found.setdefault(stage)

        for stage in sorted(earlier, key=lambda name: -len(earlier[name])):
            visit(stage, (stage,))
        return list(found)

    @cached_property
    def steps(self) -> dict[StepRef, Step]:
        """In the checklists' order; words of the newest revision that has the step."""
        found: dict[StepRef, Step] = {}
        for name, revisions in self.by_id.items():
            for _key, checklist in revisions:
                for step in checklist.steps:
                    found.setdefault(StepRef(name, step.id), step)
        return found

    def find_key_points(self, ref: StepRef) -> tuple[KeyPoint, ...]:
        """Of the step as its checklist has it now; where that has none, as another has the same
        work.
        """
        own = self.current_by_id.get(ref.checklist)
        known = (own, *self.current.values()) if own else tuple(self.current.values())
        steps = (one.step_by_id.get(ref.step) for one in known)
        return next((step.key_points for step in steps if step and step.key_points), ())

    @cached_property
    def checks(self) -> dict[CheckRef, Check]:
        """As `steps`. A fault that a newer revision has no more keeps its words."""
        found: dict[CheckRef, Check] = {}
        for name, revisions in self.by_id.items():
            for _key, checklist in revisions:
                for check in checklist.checks:
                    ref = CheckRef(name, check.id)
                    found[ref] = _add_faults(found[ref], check) if ref in found else check
        return found

    def merge(self, checklist_id: str) -> Checklist:
        """The one in use, with what only older revisions have: to name what they found."""
        revisions = [checklist for _key, checklist in self.by_id[checklist_id]]
        newest = revisions[0]
        # The same object: its hash, by which drawings are kept, is worked out once.
        if len(revisions) == 1:
            return newest
        parts = {part.id: part for one in reversed(revisions) for part in one.parts}
        steps = {ref.step: step for ref, step in self.steps.items() if ref[0] == checklist_id}
        checks = {ref.check: check for ref, check in self.checks.items() if ref[0] == checklist_id}
        # Not a copy: it would bring along what the first one keeps of its checks.
        return Checklist(
            **{
                **{name: getattr(newest, name) for name in Checklist.model_fields},
                "parts": tuple(parts.values()),
                "steps": tuple(steps.values()),
                "checks": tuple(checks.values()),
            }
        )

    def list_check_criteria(self, ref: CheckRef, size: str | None = None) -> list[Criteria[Check]]:
        """Those in force first, then the newest. size: only its limits count; None: all."""
        return self._list_criteria(
            ref.checklist,
            lambda one: one.check_by_id.get(ref.check),
            lambda _checklist, check: _describe_criteria(check, size),
        )

    def list_step_criteria(self, ref: StepRef) -> list[Criteria[Step]]:
        """As `list_check_criteria`, with every check of the step."""
        return self._list_criteria(
            ref.checklist,
            lambda one: one.step_by_id.get(ref.step),
            lambda checklist, step: [
                (check.id, _describe_criteria(check, None))
                for check in checklist.checks
                if check.step == step.id
            ],
        )

    def _list_criteria(
        self,
        checklist_id: str,
        find: Callable[[Checklist], Judged | None],
        describe: Callable[[Checklist, Judged], object],
    ) -> list[Criteria[Judged]]:
        groups: dict[str, list[tuple[str, Checklist, Judged]]] = {}
        for key, checklist in self.by_id.get(checklist_id, ()):
            judged = find(checklist)
            if judged is not None:
                alike = json.dumps(describe(checklist, judged), sort_keys=True)
                groups.setdefault(alike, []).append((key, checklist, judged))
        return [
            Criteria(
                checklist_id,
                group[0][2],
                tuple(key for key, _checklist, _judged in group),
                tuple(sorted({checklist.revision for _key, checklist, _judged in group})),
                any(key in self.current for key, _checklist, _judged in group),
            )
            for group in groups.values()
        ]


def list_works(checklists: Iterable[Checklist]) -> dict[str, list[Step]]:
    """Steps by id, in the checklists' order, as each checklist has it.

    The same id in two checklists is the same piece of work: one lesson or template concerns both.
    """
    found: dict[str, list[Step]] = {}
    for checklist in checklists:
        for step in checklist.steps:
            found.setdefault(step.id, []).append(step)
    return found


def _describe_criteria(check: Check, size: str | None) -> object:
    """What decides on a verdict; words that say the same thing better change none."""
    found = check.model_dump(mode="json", exclude=_NOT_CRITERIA)
    if isinstance(check, ChoiceCheck):
        found["options"] = [(option.id, option.verdict) for option in check.options]
    if isinstance(check, NumberCheck):
        limits = {key: limit.model_dump() for key, limit in check.limits.items()}
        found["limits"] = limits if size is None else limits.get(size)
    return found


def _add_faults(check: Check, older: Check) -> Check:
    known = {fault.id for fault in check.faults}
    lost = tuple(fault for fault in older.faults if fault.id not in known)
    return check.model_copy(update={"faults": check.faults + lost}) if lost else check
