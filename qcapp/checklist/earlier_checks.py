"""Checks of an earlier stage that a checklist names: they must be there.

A file is read alone, so this is looked at once its earlier stages are read too.
"""

from collections.abc import Iterable, Iterator, Mapping

from qcapp.checklist.fields import suggest
from qcapp.checklist.model import Checklist
from qcapp.checklist.source import ChecklistError
from qcapp.i18n.phrase import phrase

ChecksByStage = Mapping[str, frozenset[str]]


def list_check_ids(checklists: Iterable[Checklist]) -> dict[str, frozenset[str]]:
    """Ids of checks by stage."""
    found: dict[str, frozenset[str]] = {}
    for one in checklists:
        found[one.stage] = found.get(one.stage, frozenset()) | one.check_by_id.keys()
    return found


def names_unknown_check(checklist: Checklist, by_stage: ChecksByStage) -> bool:
    """Whether find_unknown_checks would find something."""
    return any(
        stage in by_stage and name not in by_stage[stage]
        for _check, stage, name in _list_named(checklist)
    )


def find_unknown_checks(
    checklist: Checklist, by_stage: ChecksByStage, *, file: str, text: str
) -> list[ChecklistError]:
    """An error for each check of an earlier stage that none of its checklists has.

    file, text: where the checklist was read. A stage without any checklist here cannot be looked
    at and is passed over.
    """
    return [
        ChecklistError(
            file,
            find_line(text, check),
            f"checks.{check}.should_be_caught_by.{stage}",
            phrase("stage '%(stage)s' has no check '%(id)s'", stage=stage, id=name),
            suggest(name, by_stage[stage]),
        )
        for check, stage, name in _list_named(checklist)
        if stage in by_stage and name not in by_stage[stage]
    ]


def _list_named(checklist: Checklist) -> Iterator[tuple[str, str, str]]:
    for check in checklist.checks:
        for stage, names in (check.should_be_caught_by or {}).items():
            for name in names:
                yield check.id, stage, name


def find_line(text: str, check: str) -> int:
    """Where a check begins in a YAML text, 1 when it is not found."""
    starts = (f"- id: {check}", f"- {{id: {check},")
    lines = enumerate(text.splitlines(), start=1)
    return next((number for number, line in lines if line.strip().startswith(starts)), 1)
