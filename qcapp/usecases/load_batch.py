"""Batches as pages and commands show them: which there are, how far each is."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.reports.stove_grid import StoveGrid, lay_out_grid
from qcapp.reports.totals import count_stoves
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import batch_figures
from qcapp.store.queries.batch_stoves import list_released_later
from qcapp.store.registry import batches, people, photos
from qcapp.store.registry.batches import Batch
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.decide_held import HeldStove, load_decided, load_held
from qcapp.usecases.issue_summary import BatchReviewView, load_batch_review_view

FINISHED = "finished"


@dataclass(frozen=True)
class BatchView:
    """One batch as its lead sees it. review: None where nothing can be decided; stage: the one the
    grid shows; stages: {stage: stoves inspected}, the finished ones first; held, decided: of all
    stages, those that wait for the lead and those the lead decided about; here: photos of held
    ones that have arrived; names: people by code.
    """

    batch: Batch
    review: BatchReviewView | None
    stage: str
    stages: Mapping[str, int]
    grid: StoveGrid
    held: Sequence[HeldStove]
    decided: Sequence[HeldStove]
    here: Mapping[str, bool]
    names: Mapping[str, str]


def read_batch(store: Store, code: str) -> Batch:
    """Raises NotFound."""
    with store.reading() as connection:
        return batches.get_batch(connection, code)


def list_open_batches(store: Store) -> list[Batch]:
    """Newest first."""
    with store.reading() as connection:
        return batches.list_open_batches(connection)


def list_batches(
    store: Store, *, newest: int, skip: int
) -> list[tuple[Batch, list[tuple[str, dict[str, int]]]]]:
    """[(batch, [(stage, its stoves as `count_stoves` counts them)])], newest first, the last stage
    first. Only finished stoves are planned, so only of these some were not inspected.
    """
    with store.reading() as connection:
        found = batches.list_batches(connection, newest=newest, skip=skip)
        codes = [batch["code"] for batch in found]
        states = batch_figures.list_stove_states(connection, *codes)
        later = list_released_later(connection, codes)
        rank = _rank_stages(connection)
    rows = []
    for batch in found:
        here = [row for row in states if row.batch == batch["code"]]
        stages = sorted({row.stage for row in here}, key=rank)
        rows.append(
            (
                batch,
                [
                    (stage, _sum_states(batch, here, stage, later.get((batch["code"], stage), 0)))
                    for stage in stages
                ],
            )
        )
    return rows


def _sum_states(
    batch: Batch, states: Iterable[batch_figures.StoveState], stage: str, released_later: int
) -> dict[str, int]:
    here = [row for row in states if row.stage == stage]
    dispositions: Counter[str] = Counter()
    for row in here:
        dispositions[row.disposition] += row.stoves
    planned = max(batch["planned"], dispositions.total()) if stage == FINISHED else None
    return count_stoves(
        offered=planned,
        faulty=sum(row.failed for row in here),
        dispositions=dispositions,
        released_later=released_later,
    )


def count_inspected(store: Store, codes: Iterable[str]) -> dict[str, dict[str, int]]:
    """{batch: {stage: stoves}}, the last stage first: a liner looked at before is not one stove
    more.
    """
    with store.reading() as connection:
        states = batch_figures.list_stove_states(connection, *codes)
        rank = _rank_stages(connection)
    by_batch: dict[str, list[batch_figures.StoveState]] = {}
    for row in states:
        by_batch.setdefault(row.batch, []).append(row)
    return {code: _count_stages(own, rank) for code, own in by_batch.items()}


def load_batch(store: Store, code: str, *, stage: str = "", only: str = "") -> BatchView:
    """stage: what the grid shows, "" for the one that is decided on; only: a state of it, or "".

    Raises NotFound.
    """
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
        review = load_batch_review_view(connection, batch)
        states = batch_figures.list_stove_states(connection, code)
        stages = _count_stages(states, _rank_stages(connection))
        decided_on = review.review.facts.stage if review else next(iter(stages), FINISHED)
        shown = stage if stage in stages else decided_on
        offered = review.review.plan.lot if review and shown == decided_on else 0
        people_by_code = people.list_people(connection)
        held = load_held(connection, code)
        named = {name for one in held for name in one.photos}
        whole = photos.list_whole(connection, named)
        return BatchView(
            batch=batch,
            review=review,
            stage=shown,
            stages={decided_on: 0, **stages},
            grid=lay_out_grid(
                batch_figures.list_stove_marks(connection, code, shown),
                prefix=batch["serial_prefix"],
                offered=offered,
                only=only,
            ),
            held=held,
            decided=load_decided(connection, code),
            here={name: name in whole for name in named},
            names={person["code"]: person["name"] for person in people_by_code},
        )


def _count_stages(
    states: Iterable[batch_figures.StoveState], rank: Callable[[str], Any]
) -> dict[str, int]:
    found: dict[str, int] = {}
    for row in sorted(states, key=lambda row: rank(row.stage)):
        found[row.stage] = found.get(row.stage, 0) + row.stoves
    return found


def _rank_stages(connection: Connection) -> Callable[[str], Any]:
    """Against the making: the finished stove first, then what went before it, one that no
    checklist has any more at the end.
    """
    order = {
        stage: place for place, stage in enumerate(load_history(connection).stages_in_order[::-1])
    }
    return lambda stage: (stage != FINISHED, order.get(stage, len(order)), stage)
