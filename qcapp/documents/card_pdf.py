"""The card of one artisan on paper: A6, one page, the picture first."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from qcapp.checklist.items import KeyPoint
from qcapp.documents.paper_words import SLOTS, prepare
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.localized_text import pick
from qcapp.i18n.phrase import phrase
from qcapp.reports.card import Card, CardAim, CardStep
from qcapp.reports.card_wording import (
    BEFORE,
    CHANGES,
    NOW,
    say_counts,
    say_interval,
    say_nothing_to_work_on,
)
from qcapp.reports.groups import GroupRate


@dataclass(frozen=True)
class CardPaper:
    """What a card shows beside its figures. name: as the yard has it, with the code; picture: SVG
    text or empty; fault: words of the commonest one, or empty; since: the first day that counts,
    said; ask: whom to ask.
    """

    yard: str
    name: str
    card: Card
    key_points: Sequence[KeyPoint]
    fault: str
    picture: str
    since: str
    ask: str


def build_card_pdf(paper: CardPaper, *, dated: datetime, language: str) -> bytes:
    """A6, upright."""
    card = paper.card
    given = {
        "yard": paper.yard,
        "name": paper.name,
        "well": _describe_step(card.well) if card.well else None,
        "aim": _describe_aim(card.aim, paper, language) if card.aim else None,
        "nothing": say_nothing_to_work_on(card),
        "ask": paper.ask,
        "texts": {
            "title": phrase("Card of %(title)s", **SLOTS),
            "well": phrase("Goes well"),
            "aim": phrase("Work on this step"),
            "counts": phrase("Own counts"),
            "rests_on": phrase(
                "First inspections of your own work since %(day)s.", day=paper.since
            ),
        },
    }
    return typeset(
        "card.typ",
        prepare(given, load_locale(language)),
        dated=dated,
        pictures={"picture": paper.picture},
    )


def _describe_aim(aim: CardAim, paper: CardPaper, language: str) -> dict[str, object]:
    stage = aim.step.stage
    return {
        **_describe_step(aim.step),
        "fault": paper.fault,
        "points": [
            {"do": pick(point.do, language), "why": pick(point.why, language)}
            for point in paper.key_points
        ],
        "counts": [
            {"when": NOW, **_describe_rate(aim.now, stage)},
            {"when": BEFORE, **_describe_rate(aim.before, stage)},
        ],
        "says": CHANGES[aim.says],
    }


def _describe_step(step: CardStep) -> dict[str, object]:
    return {"step": step.title, **_describe_rate(step.rate, step.stage)}


def _describe_rate(rate: GroupRate, stage: str) -> dict[str, object]:
    return {"said": say_counts(rate, stage), "interval": say_interval(rate)}
