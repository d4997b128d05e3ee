"""The lot of the cards: draw it once, read it, say what the cards have changed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.inspection.filters import Filters
from qcapp.reports.card_lot import (
    MAX_WEEKS,
    MIN_WEEKS,
    CardLot,
    LotResult,
    build_lot_result,
    draw_lot,
    find_first_day,
)
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import trainer_queries
from qcapp.store.registry.card_links import CardLink, list_card_links
from qcapp.store.registry.checklists import load_history
from qcapp.store.registry.people import Person, list_people
from qcapp.store.registry.yard_facts import load_yard_facts, save_yard_facts
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.build_own_card import build_own_card


@dataclass(frozen=True)
class CardRow:
    """One artisan on the trainer's page. half: first, second, or none (no step to be measured by).
    links: those that open the card now, newest first.
    """

    person: Person
    half: str
    is_given: bool
    links: tuple[CardLink, ...]


@dataclass(frozen=True)
class CardsView:
    """lot: None before it is drawn; result: None then, and where everybody began at once."""

    rows: tuple[CardRow, ...]
    lot: CardLot | None
    result: LotResult | None
    are_off: bool


def find_lot(connection: Connection) -> CardLot | None:
    """The first that was drawn; there is never another."""
    found = log.list_by_kind(connection, "card_lot")
    return _read_lot(found[0]) if found else None


def _read_lot(event: Mapping[str, Any]) -> CardLot:
    body = event["body"]
    return CardLot(
        seed=body["seed"],
        first=tuple(body["first"]),
        second=tuple(body["second"]),
        aims={code: StepRef(aim["checklist"], aim["step"]) for code, aim in body["aims"].items()},
        since=body["since"],
        until=body["until"],
        drawn_on=event["captured_at"],
        by=event["inspector"],
    )


def load_cards(store: Store, now: datetime) -> CardsView:
    with store.reading() as connection:
        lot = find_lot(connection)
        moment = format_timestamp(now)
        links: dict[str, list[CardLink]] = {}
        for link in list_card_links(connection):
            if link.revoked_at is None and link.expires_at > moment:
                links.setdefault(link.artisan, []).append(link)
        rows = tuple(
            CardRow(
                person,
                _find_half(lot, person["code"]),
                lot is not None and lot.is_given(person["code"], now.date()),
                tuple(links.get(person["code"], ())),
            )
            for person in _list_artisans(connection)
        )
        are_off = load_yard_facts(connection).has_no_cards
        result = _load_result(connection, lot, now) if lot else None
    return CardsView(rows, lot, result, are_off)


def _find_half(lot: CardLot | None, code: str) -> str:
    if lot is None:
        return ""
    return "first" if code in lot.first else "second" if code in lot.second else "none"


def _load_result(connection: Connection, lot: CardLot, now: datetime) -> LotResult | None:
    window = Filters(since=find_first_day(lot), until=lot.until)
    steps = set(lot.aims.values())
    tallies = trainer_queries.list_step_tallies(connection, window, steps) if steps else []
    return build_lot_result(lot, tallies, now.date())


def _list_artisans(connection: Connection) -> list[Person]:
    return [
        person for person in list_people(connection) if person["trades"] and not person["has_left"]
    ]


def draw_card_lot(
    store: Store, settings: Settings, *, weeks: int, by: str, now: datetime
) -> CardLot:
    """Draws and records it, before any card can be seen. Raises BadInput, and Clash where it has
    been drawn: a second lot would let somebody choose.

    The seed is the running hash of the log at that moment, so that nobody picks it and whoever has
    the log can draw it again.
    """
    if not MIN_WEEKS <= weeks <= MAX_WEEKS:
        raise BadInput(
            phrase("the number of weeks is too small or too large"),
            "weeks",
            phrase("choose %(least)s to %(most)s", least=MIN_WEEKS, most=MAX_WEEKS),
        )
    with store.writing() as connection:
        if find_lot(connection) is not None:
            raise Clash(
                phrase("the lot has been drawn"), "", phrase("see on the page what it gave")
            )
        aims = _find_aims(connection, settings, now)
        seed = log.get_head(connection).chain
        first, second = draw_lot(aims, seed)
        days = timedelta(weeks=weeks if second else 0)
        body = {
            "seed": seed,
            "first": list(first),
            "second": list(second),
            "aims": {code: aim._asdict() for code, aim in sorted(aims.items())},
            "since": now.date().isoformat(),
            "until": (now.date() + days).isoformat(),
        }
        append_server_event(connection, kind="card_lot", recorder=by, body=body, now=now)
        return _read_lot({"body": body, "captured_at": format_timestamp(now), "inspector": by})


def _find_aims(connection: Connection, settings: Settings, now: datetime) -> dict[str, StepRef]:
    """The step that each artisan's card would name today."""
    history = load_history(connection)
    cards = (
        build_own_card(connection, history, person["code"], settings, now)
        for person in _list_artisans(connection)
    )
    return {card.artisan: card.aim.step.ref for card in cards if card.aim}


def switch_cards(store: Store, *, is_off: bool) -> None:
    with store.writing() as connection:
        save_yard_facts(connection, has_no_cards=is_off)
