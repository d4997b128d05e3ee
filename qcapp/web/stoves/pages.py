"""The page of one stove: every stage that saw it, with its visits, faults, readings, people."""

from dataclasses import dataclass
from functools import partial
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.charts.reading import draw_reading
from qcapp.documents.sheet_words import describe_limits
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import DISPOSITIONS
from qcapp.reports.stove_way import Reading, StageOfWay, Visit
from qcapp.sync.quarantine import SIGNED_LATER
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_stove import StoveWay, find_stove, load_stove
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.layout.fault_cards import FaultCard, Surroundings, list_cards, name_person
from qcapp.web.layout.page import page
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.rules import allow

router = APIRouter(prefix="/stoves", include_in_schema=False)


@dataclass(frozen=True)
class ReadingView:
    """picture: SVG of the reading on its limits, empty where there are none."""

    ask: str
    text: str
    limits: str
    verdict: str
    picture: str


@dataclass(frozen=True)
class VisitView:
    """crew: (artisan, steps); photos: (name, is it here) of those that no card shows."""

    visit: Visit
    inspector: str
    crew: tuple[tuple[str, str], ...]
    cards: tuple[FaultCard, ...]
    readings: tuple[ReadingView, ...]
    photos: tuple[tuple[str, bool], ...]


@router.get("", dependencies=[allow("see_stoves")])
def find(store: StoreDep, serial: Annotated[str, Query(min_length=1, max_length=100)]) -> Response:
    stage, _, plain = find_stove(store, serial).partition("/")
    return RedirectResponse(f"/stoves/{quote(stage)}/{quote(plain)}", status_code=303)


@router.get("/{stage}/{serial:path}", dependencies=[allow("see_stoves")])
def show_stove(
    request: Request, stage: str, serial: str, store: StoreDep, drawings: DrawingsDep
) -> Response:
    way = load_stove(store, stage, serial)
    own = next(one for one in way.stages if one.stage == stage)
    return page(
        request,
        "stoves/stove.html",
        title=phrase("The way of %(serial)s", serial=own.serial),
        way=way,
        own=own,
        stages=[
            (one, [_view_visit(visit, way, drawings) for visit in one.visits]) for one in way.stages
        ],
        dispositions=DISPOSITIONS,
        person=partial(name_person, way.names),
        signed_later=SIGNED_LATER,
        first_faults=_count_first_faults(way.stages),
    )


def _count_first_faults(stages: tuple[StageOfWay, ...]) -> int:
    return sum(visit.failed for one in stages for visit in one.visits if visit.is_first)


def _view_visit(visit: Visit, way: StoveWay, drawings: KeptDrawings) -> VisitView:
    name = partial(name_person, way.names)
    around = Surroundings(visit.checklist, drawings.list_all(visit.checklist), way.here, name)
    cards = list_cards(visit.body, around)
    shown = {photo for card in cards for photo, _is_here in card.photos}
    steps: dict[str, list[str]] = {}
    for step, code in visit.crew:
        steps.setdefault(code, []).append(as_localized(step.title))
    return VisitView(
        visit,
        name(visit.inspector),
        tuple((name(code), ", ".join(titles)) for code, titles in steps.items()),
        cards,
        tuple(_view_reading(one, visit) for one in visit.readings),
        tuple((one, way.here[one]) for one in visit.photos if one not in shown),
    )


def _view_reading(reading: Reading, visit: Visit) -> ReadingView:
    told = describe_limits(reading.check.model_dump(mode="json"), [visit.body["size"]])
    limits = reading.limits
    picture = (
        draw_reading(reading.value, limits.lower, limits.nominal, limits.upper)
        if reading.value is not None and limits
        else ""
    )
    return ReadingView(
        as_localized(reading.check.ask),
        ", ".join(reading.values) or format(reading.value, ".4g"),
        told[0]["text"] if told else "",
        reading.verdict,
        picture,
    )
