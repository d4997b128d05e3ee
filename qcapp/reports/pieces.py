"""How much is right first time, stage after stage, and over the stages for the same piece.

A stage's articles are stoves, liners or whatever it inspects. Where a stove's record names its
liner, both are one piece; where it does not, nobody can tell, and the page says so.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.pieces import LOAD_STAGE, Article, MadeFrom, join_pieces
from qcapp.stats.interval import Estimate, Interval
from qcapp.stats.proportion import multiply_rates, wilson_interval


@dataclass(frozen=True)
class Yield:
    """`good` of `of`; rate and interval (Wilson) None of nothing."""

    good: int
    of: int
    rate: float | None
    interval: Interval | None


@dataclass(frozen=True)
class StageYield:
    """Articles of one checklist under the filters. first_pass: nothing failed, of those wholly
    inspected; left_out: those that were not.
    """

    checklist: str
    stage: str
    articles: int
    left_out: int
    first_pass: Yield


@dataclass(frozen=True)
class PairYield:
    """Pieces that were wholly inspected at both: an earlier checklist's stage and the later one's.

    Good at both, failed at one alone, failed at both: together `both.of`. pieces: linked at all.
    """

    earlier: str
    pieces: int
    both: Yield
    failed_earlier: int
    failed_later: int
    failed_twice: int


@dataclass(frozen=True)
class Line:
    """What leads to one checklist's pieces. stages: earlier ones first, its own last.

    product: of the stages' first-pass yields, None with a stage that nothing is known of. pairs: of
    linked pieces, by earlier stage; every: linked pieces wholly inspected at every stage here that
    were good at each. unlinked: articles of the checklist's own that no earlier one is linked to.
    """

    checklist: str
    stages: tuple[StageYield, ...]
    product: Estimate | None
    pairs: tuple[PairYield, ...]
    every: Yield
    unlinked: int


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


@dataclass(frozen=True)
class StageFacts:
    """What the store counts of one checklist: see StageCount of queries."""

    checklist: str
    articles: int
    whole: int
    good: int


@dataclass(frozen=True)
class PieceFacts:
    """articles: ends of links, by key; claims: every link to the pieces among them; step_counts:
    (inspected, failed) of all articles; step_passes: {(article, step): failed} of the linked ones.
    """

    stages: Sequence[StageFacts]
    articles: Mapping[str, Article]
    links: Sequence[MadeFrom]
    claims: Sequence[MadeFrom]
    step_counts: Mapping[StepRef, tuple[int, int]]
    step_passes: Mapping[tuple[str, StepRef], bool]


@dataclass(frozen=True)
class PieceReport:
    """contradictions: keys of articles whose links cannot all be true; they count for none."""

    lines: tuple[Line, ...]
    works: tuple[Work, ...]
    contradictions: Sequence[Sequence[str]]


def build_piece_report(facts: PieceFacts, history: ChecklistHistory) -> PieceReport:
    """A line for each checklist in use that goes on from earlier stages and inspected anything."""
    groups, contradictions = join_pieces({*facts.links, *facts.claims})
    pieces = [[key for key in group if key in facts.articles] for group in groups]
    by_checklist = {one.checklist: one for one in facts.stages}
    lines = [
        _build_line(name, earlier, by_checklist, pieces, facts.articles, history)
        for name, earlier in list_earlier(history).items()
        if name in by_checklist
    ]
    return PieceReport(tuple(lines), tuple(_list_works(facts, pieces, history)), contradictions)


def list_earlier(history: ChecklistHistory) -> dict[str, list[str]]:
    """{checklist in use: those of the stages that it goes on from, as the making goes}. A kiln load
    is not one piece with anything: it is in none.
    """
    order = {stage: place for place, stage in enumerate(history.stages_in_order)}
    by_place = sorted(history.stages.items(), key=lambda item: order.get(item[1], len(order)))
    found = {}
    for one in history.current.values():
        stages = {*one.made_from, *one.same_serial} - {LOAD_STAGE}
        if stages:
            found[one.id] = [name for name, stage in by_place if stage in stages]
    return found


def _build_line(
    name: str,
    earlier: Sequence[str],
    by_checklist: Mapping[str, StageFacts],
    pieces: Iterable[Sequence[str]],
    articles: Mapping[str, Article],
    history: ChecklistHistory,
) -> Line:
    seen = [*(one for one in earlier if one in by_checklist), name]
    stages = tuple(_build_stage(by_checklist[one], history) for one in seen)
    own = [
        found
        for piece in pieces
        if name in (found := {articles[key].checklist: articles[key] for key in piece})
    ]
    at_every = [found for found in own if set(seen) <= set(found) and _is_whole(found, seen)]
    counts = [(one.first_pass.good, one.first_pass.of) for one in stages]
    return Line(
        checklist=name,
        stages=stages,
        product=multiply_rates(counts) if all(of for _good, of in counts) else None,
        pairs=tuple(_build_pair(one, name, own) for one in seen[:-1]),
        every=build_yield(
            sum(all(found[one].is_good for one in seen) for found in at_every), len(at_every)
        ),
        unlinked=by_checklist[name].articles - sum(len(found) > 1 for found in own),
    )


def _build_stage(facts: StageFacts, history: ChecklistHistory) -> StageYield:
    return StageYield(
        facts.checklist,
        history.stages[facts.checklist],
        facts.articles,
        facts.articles - facts.whole,
        build_yield(facts.good, facts.whole),
    )


def _is_whole(found: Mapping[str, Article], checklists: Iterable[str]) -> bool:
    return all(found[one].is_whole for one in checklists)


def _build_pair(earlier: str, later: str, own: Iterable[Mapping[str, Article]]) -> PairYield:
    linked = [found for found in own if earlier in found]
    verdicts = [
        (found[earlier].is_good, found[later].is_good)
        for found in linked
        if _is_whole(found, (earlier, later))
    ]
    return PairYield(
        earlier,
        len(linked),
        build_yield(verdicts.count((True, True)), len(verdicts)),
        failed_earlier=verdicts.count((False, True)),
        failed_later=verdicts.count((True, False)),
        failed_twice=verdicts.count((False, False)),
    )


def build_yield(good: int, of: int) -> Yield:
    if of == 0:
        return Yield(0, 0, None, None)
    return Yield(good, of, good / of, wilson_interval(good, of))


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


def _list_works(
    facts: PieceFacts, pieces: Collection[Sequence[str]], history: ChecklistHistory
) -> Iterable[Work]:
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
