"""What leads to one checklist's pieces, and how much of it is right first time."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.pieces import LOAD_STAGE, Article
from qcapp.reports.piece_facts import StageFacts
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


def build_line(
    name: str,
    earlier: Sequence[str],
    by_checklist: Mapping[str, StageFacts],
    pieces: Iterable[Sequence[str]],
    articles: Mapping[str, Article],
    history: ChecklistHistory,
) -> Line:
    """name: the checklist; earlier: those it goes on from; pieces: keys that are one piece."""
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
