"""One checklist for all the yards of a programme: offered to each, used where its lead takes it.

What a yard inspects by stays its own decision, since its pay and its buyers hang on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from qcapp.checklist.load import read_text
from qcapp.checklist.model import Checklist
from qcapp.checklist.source import ChecklistError
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import StoreError
from qcapp.store.engine import Store
from qcapp.store.registry import checklist_offers, checklists
from qcapp.store.registry.checklist_offers import Offer
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.checklist_draft import NAME
from qcapp.usecases.load_programme import Yards


@dataclass(frozen=True)
class YardOffer:
    """One yard and one rolled-out checklist. offer: None where it was not offered; is_used: it is
    the yard's current one.
    """

    yard: str
    offer: Offer | None
    is_used: bool
    error: str | None = None


@dataclass(frozen=True)
class RollOut:
    checklist: Checklist
    offered_at: str
    yards: Sequence[YardOffer]


@dataclass(frozen=True)
class Source:
    """A checklist that some yards use now; yards: their names."""

    checklist: Checklist
    yards: Sequence[str]


def list_sources(yards: Yards) -> list[Source]:
    """Used now, those of most yards first."""
    found: dict[str, tuple[Checklist, list[str]]] = {}
    for name, store in yards.values():
        try:
            with store.reading() as connection:
                current = checklists.list_current_checklists(connection)
        except StoreError:
            continue
        for checklist in current:
            found.setdefault(checklist.hash, (checklist, []))[1].append(name)
    sources = [Source(checklist, sorted(names)) for checklist, names in found.values()]
    return sorted(sources, key=lambda one: (-len(one.yards), one.checklist.id, one.checklist.hash))


def write_source(yards: Yards, checklist_hash: str) -> str | None:
    """YAML of a checklist that a yard uses, None where none does."""
    for one in list_sources(yards):
        if one.checklist.hash == checklist_hash:
            return write_yaml(as_source(one.checklist.compiled()))
    return None


def read_offer(
    yards: Yards, text: str, folder: Path
) -> tuple[Checklist | None, Sequence[ChecklistError]]:
    """The checklist as it will be offered, with a number that is new in every yard; or its errors.
    folder: of the drawings. Raises StoreError when a yard cannot be read.
    """
    checklist, errors = read_text(text, NAME, folder)
    if checklist is None:
        return None, errors
    newest = max((_find_newest(store, checklist.id) for _, store in yards.values()), default=0)
    if checklist.revision > newest:
        return checklist, ()
    return Checklist.from_compiled({**checklist.compiled(), "revision": newest + 1}), ()


def _find_newest(store: Store, checklist_id: str) -> int:
    """Published in the yard, or offered to it before."""
    with store.reading() as connection:
        return max(
            checklists.find_newest_revision(connection, checklist_id),
            checklist_offers.find_newest_revision(connection, checklist_id),
        )


def offer_to_all(yards: Yards, checklist: Checklist, *, by: str, now: datetime) -> list[str]:
    """Names of the yards whose database could not take it."""
    failed = []
    for name, store in yards.values():
        try:
            with store.writing() as connection:
                checklist_offers.save_offer(connection, checklist, by=by, now=format_timestamp(now))
        except StoreError:
            failed.append(name)
    return failed


def list_roll_outs(yards: Yards) -> list[RollOut]:
    """Newest first, each with where every yard stands."""
    offers: dict[str, dict[str, Offer]] = {}
    used: dict[str, set[str]] = {}
    broken: dict[str, str] = {}
    for name, store in yards.values():
        try:
            with store.reading() as connection:
                used[name] = set(checklists.list_current_hashes(connection))
                for offer in checklist_offers.list_offers(connection):
                    offers.setdefault(offer.checklist.hash, {})[name] = offer
        except StoreError as error:
            broken[name] = error.what
    names = sorted(name for name, _ in yards.values())
    roll_outs = [
        RollOut(
            next(iter(by_yard.values())).checklist,
            min(offer.offered_at for offer in by_yard.values()),
            [
                YardOffer(name, by_yard.get(name), key in used.get(name, ()), broken.get(name))
                for name in names
            ],
        )
        for key, by_yard in offers.items()
    ]
    return sorted(roll_outs, key=lambda one: one.offered_at, reverse=True)
