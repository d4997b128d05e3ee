"""The card of one artisan as pages show it: to the artisan, and to the trainer who gives it."""

from dataclasses import dataclass

from fastapi.responses import Response

from qcapp.i18n.phrase import Phrase
from qcapp.reports.card_wording import (
    BEFORE,
    CHANGES,
    NOW,
    say_counts,
    say_interval,
    say_nothing_to_work_on,
)
from qcapp.reports.groups import GroupRate
from qcapp.store.engine import Store
from qcapp.usecases.card_picture import draw_card_picture
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_card import CardView
from qcapp.usecases.print_card import say_fault, say_whom_to_ask


@dataclass(frozen=True)
class ShownRate:
    """when: empty where it is of all days that count."""

    when: str
    counts: Phrase
    interval: str


@dataclass(frozen=True)
class ShownCard:
    """picture: SVG text or empty; fault, says: empty without a step to work on; counts: now and
    before.
    """

    view: CardView
    well: ShownRate | None
    picture: str
    fault: str
    counts: tuple[ShownRate, ...]
    says: str
    nothing: Phrase
    ask: Phrase


def view_card(store: Store, view: CardView, drawings: KeptDrawings, *, given_by: str) -> ShownCard:
    card = view.card
    aim = card.aim
    return ShownCard(
        view=view,
        well=_show("", card.well.rate, card.well.stage) if card.well else None,
        picture=draw_card_picture(view, drawings),
        fault=say_fault(view.fault) if view.fault else "",
        counts=(
            _show(NOW, aim.now, aim.step.stage),
            _show(BEFORE, aim.before, aim.step.stage),
        )
        if aim
        else (),
        says=CHANGES[aim.says] if aim else "",
        nothing=say_nothing_to_work_on(card),
        ask=say_whom_to_ask(store, given_by),
    )


def _show(when: str, rate: GroupRate, stage: str) -> ShownRate:
    return ShownRate(when, say_counts(rate, stage), say_interval(rate))


def send_card_pdf(content: bytes) -> Response:
    headers = {"Content-Disposition": 'inline; filename="card.pdf"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)
