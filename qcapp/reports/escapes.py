"""The escape rate of each stage: how much of what it passed a later stage finds faulty."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory, CheckRef, StepRef
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.escapes import CaughtBy, Look, Passage, Piece, list_passages
from qcapp.reports.groups import GroupRate, build_rate


@dataclass(frozen=True)
class CheckEscapes:
    """One check of a later stage: of the pieces that the earlier stage passed and that were looked
    at again, those that failed it. step: the work that causes the fault, in words.
    """

    later: CheckRef
    ask: str
    step: str
    rate: GroupRate


@dataclass(frozen=True)
class StageEscapes:
    """What one stage let through. rate: pieces that it passed and that a later one looked at for
    the same thing, each counted once; failed: those with an escape. faults: escapes, a piece can
    have several. checks: most escapes first.
    """

    checklist: str
    stage: str
    rate: GroupRate
    faults: int
    checks: tuple[CheckEscapes, ...]


def list_caught_by(history: ChecklistHistory) -> CaughtBy:
    """As the newest revision of each check has it."""
    return {
        (ref.checklist, ref.check): check.should_be_caught_by
        for ref, check in history.checks.items()
        if check.should_be_caught_by
    }


def list_wanted_checks(caught_by: CaughtBy) -> set[str]:
    """Ids of all checks that are needed, later and earlier ones."""
    earlier = {name for by in caught_by.values() for names in by.values() for name in names}
    return earlier | {check for _checklist, check in caught_by}


def build_escape_report(
    pieces: Iterable[Piece],
    looks: Mapping[str, Sequence[Look]],
    counted: set[str],
    history: ChecklistHistory,
) -> list[StageEscapes]:
    """Stages in the order of the making; one that no piece can be followed from has 0 of 0.

    looks: by article, oldest first; counted: articles whose first pass counts as the later look.
    """
    caught_by = list_caught_by(history)
    passages = [
        (number, passage)
        for number, piece in enumerate(pieces)
        for passage in list_passages(piece, looks, caught_by)
        if passage.later.key in counted
    ]
    order = {stage: place for place, stage in enumerate(history.stages_in_order)}
    named = {stage for by in caught_by.values() for stage in by}
    checklists = {name for name, stage in history.stages.items() if stage in named}
    checklists |= {passage.earlier.checklist for _piece, passage in passages}
    ordered = sorted(checklists, key=lambda name: (order.get(history.stages[name], 99), name))
    return [_build_stage(name, passages, history) for name in ordered]


def _build_stage(
    checklist: str, passages: Sequence[tuple[int, Passage]], history: ChecklistHistory
) -> StageEscapes:
    own = [(piece, one) for piece, one in passages if one.earlier.checklist == checklist]
    pieces = {piece for piece, _one in own}
    escaped = {piece for piece, one in own if one.is_escape}
    by_check: dict[CheckRef, list[Passage]] = {}
    for _piece, one in own:
        by_check.setdefault(CheckRef(one.later.checklist, one.later.check), []).append(one)
    checks = [_build_check(ref, found, history) for ref, found in by_check.items()]
    checks.sort(key=lambda one: (-one.rate.failed, -one.rate.inspected, one.later))
    return StageEscapes(
        checklist,
        history.stages[checklist],
        build_rate(len(pieces), len(escaped)),
        sum(one.is_escape for _piece, one in own),
        tuple(checks),
    )


def _build_check(
    ref: CheckRef, passages: Sequence[Passage], history: ChecklistHistory
) -> CheckEscapes:
    check = history.checks[ref]
    step = history.steps[StepRef(ref.checklist, check.step)]
    return CheckEscapes(
        ref,
        text_of(check.ask),
        text_of(step.title),
        build_rate(len(passages), sum(one.is_escape for one in passages)),
    )
