"""The page of one stove: every stage that saw it, with its visits, faults, readings, people."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.charts.reading import draw_reading
from qcapp.documents.sheet_words import describe_limits
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import DISPOSITIONS
from qcapp.reports.photo_figures import PhotoFigure
from qcapp.reports.stove_way import Reading, StageOfWay, Visit
from qcapp.sync.quarantine import SIGNED_LATER
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_stove import StoveWay, find_stove, load_stove
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.layout.fault_cards import FaultCard, Surroundings, list_cards, name_person
from qcapp.web.layout.page import page
from qcapp.web.layout.template_filters import as_localized, as_number
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
class MeasuredPhoto:
    """photo, overlay: (name, is it here); proposal: as recorded; figures: of each check."""

    photo: tuple[str, bool]
    overlay: tuple[str, bool]
    proposal: Mapping[str, Any]
    figures: tuple[PhotoFigure, ...]


@dataclass(frozen=True)
class VisitView:
    """crew: (artisan, steps); measured: photos in which something was measured; photos: (name, is
    it here) of those that neither these nor a card show.
    """

    visit: Visit
    inspector: str
    crew: tuple[tuple[str, str], ...]
    cards: tuple[FaultCard, ...]
    readings: tuple[ReadingView, ...]
    measured: tuple["MeasuredPhoto", ...]
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
        title=phrase(
            "%(checklist)s %(serial)s",
            checklist=text_of(own.visits[-1].checklist.title),
            serial=own.serial,
        ),
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
    measured = _list_measured(visit, way)
    shown = {photo for card in cards for photo, _is_here in card.photos}
    shown |= {name for one in measured for name, _is_here in (one.photo, one.overlay)}
    steps: dict[str, list[str]] = {}
    for step, code in visit.crew:
        steps.setdefault(code, []).append(as_localized(step.title))
    return VisitView(
        visit,
        name(visit.inspector),
        tuple((name(code), ", ".join(titles)) for code, titles in steps.items()),
        cards,
        tuple(_view_reading(one, visit) for one in visit.readings),
        measured,
        tuple((one, way.here[one]) for one in visit.photos if one not in shown),
    )


def _list_measured(visit: Visit, way: StoveWay) -> tuple[MeasuredPhoto, ...]:
    """By the photo's name: one photo answers several checks."""
    found: dict[str, list[PhotoFigure]] = {}
    for one in visit.photo_figures:
        found.setdefault(one.holes["photo"], []).append(one)
    return tuple(
        MeasuredPhoto(
            (photo, way.here.get(photo, False)),
            (overlay, way.here.get(overlay, False)),
            figures[0].holes["proposal"],
            tuple(figures),
        )
        for photo, figures in found.items()
        for overlay in (figures[0].holes["overlay"],)
    )


def _view_reading(reading: Reading, visit: Visit) -> ReadingView:
    told = describe_limits(reading.check.model_dump(mode="json"), [visit.body["size"]])
    limits = reading.limits
    picture = (
        draw_reading(reading.value, limits.lower, limits.nominal, limits.upper)
        if reading.value is not None and limits
        else ""
    )
    worked_out = () if reading.value is None else (format(reading.value, ".4g"),)
    texts = reading.values or worked_out
    return ReadingView(
        as_localized(reading.check.ask),
        " · ".join(map(as_number, texts)),
        told[0]["text"] if told else "",
        reading.verdict,
        picture,
    )
