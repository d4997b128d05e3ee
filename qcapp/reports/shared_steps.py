"""One step that several stages look at: each piece counted once."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.i18n.localized_text import text_of
from qcapp.reports.piece_facts import PieceFacts
from qcapp.reports.piece_yields import list_earlier
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class WorkStage:
    checklist: str
    stage: str
    inspected: int
    failed: int


@dataclass(frozen=True)
class Work:
    """One step that several stages look at. pieces: each counted once, bad where it failed at any
    of the stages that saw it; twice: pieces that more than one stage saw.
    """

    step: str
    title: str
    stages: tuple[WorkStage, ...]
    pieces: int
    failed: int
    rate: float
    interval: Interval
    twice: int


def list_shared_steps(history: ChecklistHistory) -> dict[str, list[StepRef]]:
    """Steps by id that a checklist and one that it goes on from both look at, earlier first."""
    found: dict[str, list[StepRef]] = {}
    for name, earlier in list_earlier(history).items():
        for step in history.current_by_id[name].steps:
            refs = [StepRef(one, step.id) for one in (*earlier, name)]
            known = [ref for ref in refs if ref in history.steps]
            if len(known) > 1:
                kept = found.setdefault(step.id, [])
                kept += [ref for ref in known if ref not in kept]
    return found


def build_works(
    facts: PieceFacts, pieces: Collection[Sequence[str]], history: ChecklistHistory
) -> Iterable[Work]:
    """pieces: keys of the articles that are one piece. A step that one stage alone saw is none."""
    for step, refs in list_shared_steps(history).items():
        counted = [ref for ref in refs if ref in facts.step_counts]
        if len(counted) > 1:
            yield _build_work(step, counted, facts, pieces, history)


def _build_work(
    step: str,
    refs: Sequence[StepRef],
    facts: PieceFacts,
    pieces: Iterable[Sequence[str]],
    history: ChecklistHistory,
) -> Work:
    """All articles, less what a piece was counted more than once."""
    seen = [
        [
            facts.step_passes[key, ref]
            for key in piece
            for ref in refs
            if (key, ref) in facts.step_passes
        ]
        for piece in pieces
    ]
    twice = [failed for failed in seen if len(failed) > 1]
    counts = [facts.step_counts[ref] for ref in refs]
    inspected = sum(count for count, _failed in counts) - sum(len(one) - 1 for one in twice)
    failed = sum(count for _inspected, count in counts) - sum(sum(one) - any(one) for one in twice)
    return Work(
        step=step,
        title=text_of(history.steps[refs[-1]].title),
        stages=tuple(
            WorkStage(ref.checklist, history.stages[ref.checklist], *facts.step_counts[ref])
            for ref in refs
        ),
        pieces=inspected,
        failed=failed,
        rate=failed / inspected,
        interval=wilson_interval(failed, inspected),
        twice=len(twice),
    )
