"""Loads the card of one artisan: for the artisan's own link, for the trainer, for paper."""

from dataclasses import dataclass
from datetime import datetime

from qcapp.access.card_links import open_card_link
from qcapp.access.links import refuse_link
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import CheckRef
from qcapp.checklist.items import KeyPoint
from qcapp.checklist.model import Checklist
from qcapp.errors import Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.lesson_parts import LessonPart
from qcapp.reports.card import Card
from qcapp.reports.card_lot import CardLot
from qcapp.reports.faults import name_fault
from qcapp.settings import Settings
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import card_queries
from qcapp.store.queries.lesson_queries import list_parts_of_step
from qcapp.store.registry.card_links import CardLink
from qcapp.store.registry.checklists import load_history
from qcapp.store.registry.lesson_media import Media
from qcapp.store.registry.people import Person, find_person
from qcapp.store.registry.yard_facts import load_yard_facts
from qcapp.usecases.build_own_card import build_own_card
from qcapp.usecases.card_lot import find_lot
from qcapp.usecases.keep_lesson_parts import load_media


@dataclass(frozen=True)
class CommonFault:
    """The commonest own fault of the step to work on. check: None where no checklist here knows it
    any more.
    """

    title: str
    fault: str | None
    failed: int
    check: Check | None


@dataclass(frozen=True)
class CardView:
    """key_points, fault, checklist, parts (of its lesson): of the step to work on."""

    person: Person
    card: Card
    key_points: tuple[KeyPoint, ...] = ()
    fault: CommonFault | None = None
    checklist: Checklist | None = None
    parts: tuple[LessonPart, ...] = ()


def load_own_card(
    store: Store, settings: Settings, token: str, now: datetime
) -> tuple[CardLink, CardView]:
    """Behind a personal link. Raises NotFound in the same words, whatever keeps the card back: an
    unknown, old or ended link, cards switched off, a person who left, a card not yet given.
    """
    link = open_card_link(store, token, now)
    with store.reading() as connection:
        lot = find_lot(connection)
        person = find_person(connection, link.artisan)
        if (
            person is None
            or person["has_left"]
            or load_yard_facts(connection).has_no_cards
            or not is_given(lot, link.artisan, now)
        ):
            raise refuse_link()
        return link, _load(connection, settings, person, now)


def load_own_media(
    store: Store, settings: Settings, token: str, sha256: str, now: datetime
) -> Media:
    """A picture or voice note of the lesson that the card shows; of no other. Raises NotFound."""
    _link, view = load_own_card(store, settings, token, now)
    if sha256 not in {part.sha256 for part in view.parts}:
        raise refuse_link()
    return load_media(store, sha256)


def load_given_card(store: Store, settings: Settings, artisan: str, now: datetime) -> CardView:
    """The same for the trainer. Raises NotFound, and Clash while the lot keeps it back."""
    with store.reading() as connection:
        person = find_person(connection, artisan)
        if person is None or not person["trades"]:
            raise NotFound(
                phrase("there is no such artisan"), artisan, phrase("see the list of cards")
            )
        refuse_kept_back(connection, artisan, now)
        return _load(connection, settings, person, now)


def is_given(lot: CardLot | None, artisan: str, now: datetime) -> bool:
    return lot is not None and lot.is_given(artisan, now.date())


def refuse_kept_back(connection: Connection, artisan: str, now: datetime) -> None:
    """Raises Clash for a card that nobody may see yet: before the lot, in the second half, off."""
    lot = find_lot(connection)
    if load_yard_facts(connection).has_no_cards:
        raise Clash(
            phrase("the cards are switched off"),
            artisan,
            phrase("the yard lead can switch them on"),
        )
    if lot is None:
        raise Clash(
            phrase("no lot has been drawn yet"),
            artisan,
            phrase("draw first who gets a card first; then it can be shown"),
        )
    if not is_given(lot, artisan, now):
        raise Clash(
            phrase("the lot gives this card later"), artisan, phrase("wait until the day it names")
        )


def _load(connection: Connection, settings: Settings, person: Person, now: datetime) -> CardView:
    history = load_history(connection)
    card = build_own_card(connection, history, person["code"], settings, now)
    if card.aim is None:
        return CardView(person, card)
    ref = card.aim.step.ref
    found = card_queries.list_own_faults(connection, person["code"], ref, card.since)
    fault = None
    if found:
        check = history.checks.get(CheckRef(ref.checklist, found[0].check_id))
        title = name_fault(check, found[0].fault) if check else found[0].check_id
        fault = CommonFault(title, found[0].fault, found[0].failed, check)
    return CardView(
        person,
        card,
        history.find_key_points(ref),
        fault,
        history.current_by_id.get(ref.checklist),
        tuple(list_parts_of_step(connection, ref.step)),
    )
