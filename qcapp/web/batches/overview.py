"""Batches and how far they are; one batch as its lead sees it."""

from collections import Counter
from collections.abc import Mapping
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from qcapp.charts.outcomes import OutcomeBar, draw_outcomes
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import waits_for_reply
from qcapp.reports.stove_grid import STATES
from qcapp.reports.totals import WORDS
from qcapp.store.registry.batches import Batch
from qcapp.usecases.decide_held import HeldStove
from qcapp.usecases.issue_summary import BatchReviewView
from qcapp.usecases.load_batch import BatchView, list_batches, load_batch
from qcapp.web.batches.charts import draw_outgoing
from qcapp.web.deps import StoreDep
from qcapp.web.layout.fault_cards import FaultCard, Surroundings, list_cards, name_person
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter()
ON_A_PAGE = 50
# A larger batch is looked at state by state: a thousand marks are no picture.
MAX_CELLS = 400
# In the order in which a lead thinks of them; which are possible depends on what was found.
CHOICES = {
    "release": phrase("Release"),
    "concession": phrase("Release by concession"),
    "rework": phrase("Send to rework"),
    "scrap": phrase("Scrap"),
}


@router.get("/batches", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batches(
    request: Request, store: StoreDep, skip: Annotated[int, Query(ge=0, le=1_000_000)] = 0
) -> Response:
    found = list_batches(store, newest=ON_A_PAGE + 1, skip=skip)
    return page(
        request,
        "batches/batches.html",
        title=phrase("Batches"),
        rows=[_draw_stages(f"b{n}", *row) for n, row in enumerate(found[:ON_A_PAGE])],
        older=skip + ON_A_PAGE if len(found) > ON_A_PAGE else None,
        newer=skip > 0,
    )


def _draw_stages(
    name: str, batch: Batch, stages: list[tuple[str, dict[str, int]]]
) -> tuple[Batch, list[tuple[str, dict[str, int], OutcomeBar]]]:
    """Every stage with its counts as one bar. name: unique in the page."""
    locale = get_active_locale()
    return batch, [
        (stage, counts, draw_outcomes(counts, name=f"{name}-{n}", locale=locale))
        for n, (stage, counts) in enumerate(stages)
    ]


@router.get("/batches/{code}", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batch(
    request: Request,
    code: str,
    store: StoreDep,
    stage: Annotated[str, Query(max_length=100)] = "",
    only: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """stage, only: what the grid shows; one that is not known shows all."""
    wanted = only if only in STATES else ""
    return batch_page(request, load_batch(store, code, stage=stage, only=wanted), only=wanted)


def batch_page(
    request: Request,
    found: BatchView,
    *,
    only: str = "",
    fresh_link: Mapping[str, Any] | None = None,
) -> Response:
    """fresh_link: path, address (None: nobody elsewhere reaches it) and reach of the link just
    made, shown once.
    """
    review = found.review
    return page(
        request,
        "batches/batch.html",
        title=phrase("Batch %(code)s", code=found.batch["code"]),
        batch=found.batch,
        found=found,
        grid=found.grid,
        only=only,
        most=MAX_CELLS,
        state_words={state: WORDS[state] for state in STATES},
        choices=CHOICES,
        held_stages=Counter(one.stage for one in found.held),
        decided_stages=Counter(one.stage for one in found.decided),
        faults={one.key: _list_faults(one, found) for one in found.held},
        possible={kind for one in found.held for kind in one.choices},
        review=review,
        open_words=[word for word in review.from_buyer if waits_for_reply(word)] if review else [],
        is_ready=review is not None and _is_ready(review),
        outgoing=draw_outgoing(review.review.plan) if review else None,
        fresh_link=fresh_link,
    )


def _list_faults(held: HeldStove, found: BatchView) -> list[FaultCard]:
    """What keeps it from going out, as the newest look at each check saw it."""
    wanted = {check.id for check, _fault in held.findings.failed}
    cards = []
    for checklist, body in held.visits:
        around = Surroundings(checklist, {}, found.here, partial(name_person, found.names))
        cards += [card for card in list_cards(body, around) if card.check in wanted]
        wanted -= {card.check for card in cards}
    return cards


def _is_ready(review: BatchReviewView) -> bool:
    """Whether the batch may go out, and no summary says so yet."""
    is_told = review.summaries and not review.is_stale
    return review.review.decision.final == "accept" and not is_told
