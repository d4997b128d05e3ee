"""Loads the whole way of one stove: every stage that its records join."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from qcapp.checklist.history import ChecklistHistory
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.escapes import Passage, Piece, find_pieces, list_passages
from qcapp.inspection.event import stove_key
from qcapp.inspection.pieces import LOAD_STAGE, MadeFrom, join_pieces
from qcapp.reports.escapes import list_caught_by, list_wanted_checks
from qcapp.reports.stove_way import StageOfWay, build_stage
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import escape_queries
from qcapp.store.registry import people, photos
from qcapp.store.registry.checklists import load_checklists, load_history

MAX_NAMED = 60


@dataclass(frozen=True)
class StoveWay:
    """stages: as the making goes; passages: what an earlier stage had passed and a later one looked
    at again; others: articles that cannot be told apart from this piece, by name, since records
    contradict each other; missing: what records name and nobody inspected; pieces: of a kiln load,
    by name, and how many; names: people by code; here: photos that have arrived.
    """

    history: ChecklistHistory
    stages: tuple[StageOfWay, ...]
    passages: tuple[Passage, ...]
    others: tuple[str, ...]
    missing: tuple[str, ...]
    pieces: tuple[str, ...]
    piece_count: int
    names: Mapping[str, str]
    here: Mapping[str, bool]

    @property
    def escapes(self) -> list[Passage]:
        return [one for one in self.passages if one.is_escape]


def find_stove(store: Store, serial: str) -> str:
    """Key of the last stage that inspected this serial. Raises NotFound."""
    with store.reading() as connection:
        history = load_history(connection)
        stages = [*history.stages_in_order[::-1], *history.stages.values()]
        keys = list(dict.fromkeys(stove_key(stage, serial) for stage in stages))
        known = escape_queries.find_keys(connection, keys)
    found = next((key for key in keys if key in known), None)
    if found is None:
        raise NotFound(
            phrase("nobody has inspected this serial"),
            serial,
            phrase("type it as it is on the tag, without the point and the character after it"),
        )
    return found


def load_stove(store: Store, stage: str, serial: str) -> StoveWay:
    """Raises NotFound where nothing of this stage and serial counts."""
    key = stove_key(stage, serial)
    with store.reading() as connection:
        history = load_history(connection)
        links = escape_queries.list_links_around(connection, key)
        known = escape_queries.find_keys(connection, _list_ends(links) | {key})
        keys = _list_own(key, links)
        stages = _load_stages(connection, [one for one in keys if one in known], history)
        if not any(one.key == key for one in stages):
            raise NotFound(
                phrase("nobody has inspected this serial"), serial, phrase("see its batch")
            )
        named = {name for one in stages for visit in one.visits for name in visit.photos}
        whole = photos.list_whole(connection, named)
        wanted = list_wanted_checks(list_caught_by(history))
        looks = escape_queries.list_looks(connection, keys, wanted)
        names = {person["code"]: person["name"] for person in people.list_people(connection)}
    inside = sorted(link.stove_key for link in links if link.from_key == key and _is_load(key))
    told = {one: f"{one.partition('/')[0]}/{typed}" for one, (_id, typed) in known.items()}
    return StoveWay(
        history,
        stages,
        tuple(list_passages(_find_piece(key, links), looks, list_caught_by(history))),
        tuple(told.get(one, one) for one in _list_contradicting(key, links)),
        _list_missing([link for link in links if link.stove_key in keys], known),
        tuple(told.get(one, one) for one in inside[:MAX_NAMED]),
        len(inside),
        names,
        {name: name in whole for name in named},
    )


def _list_ends(links: list[MadeFrom]) -> set[str]:
    return {end for link in links for end in (link.stove_key, link.from_key)}


def _is_load(key: str) -> bool:
    return key.partition("/")[0] == LOAD_STAGE


def _is_entered(link: MadeFrom) -> bool:
    """Typed by somebody, not just the same serial at an earlier stage that the yard may not use."""
    return link.stove_key.partition("/")[2] != link.from_key.partition("/")[2]


def _list_missing(links: list[MadeFrom], known: Collection[str]) -> tuple[str, ...]:
    """By name, what the links come from and nobody inspected."""
    missing = {
        f"{link.stage}/{link.from_serial}"
        for link in links
        if link.from_key not in known and _is_entered(link)
    }
    return tuple(sorted(missing))


def _find_piece(key: str, links: list[MadeFrom]) -> Piece:
    (piece,) = [one for one in find_pieces(links, [key]) if key in one.keys]
    return piece


def _list_own(key: str, links: list[MadeFrom]) -> list[str]:
    """Articles that are one piece with this one, and the load that it was in."""
    piece = _find_piece(key, links)
    return [*piece.keys, *([piece.load] if piece.load else [])]


def _list_contradicting(key: str, links: list[MadeFrom]) -> list[str]:
    _groups, contradictions = join_pieces(links)
    return [one for group in contradictions if key in group for one in group if one != key]


def _load_stages(
    connection: Connection, keys: list[str], history: ChecklistHistory
) -> tuple[StageOfWay, ...]:
    events = log.list_stove_events(connection, keys)
    hashes = {event.get("checklist_hash") for own in events.values() for event in own}
    accepted = {
        event["body"]["event"].get("checklist_hash")
        for own in events.values()
        for event in own
        if event["kind"] == "quarantine_decision" and event["body"].get("event")
    }
    checklists = load_checklists(connection, hashes | accepted)
    order = {stage: place for place, stage in enumerate(history.stages_in_order)}
    built = [build_stage(key, events[key], checklists) for key in keys]
    found = [one for one in built if one is not None]
    return tuple(sorted(found, key=lambda one: order.get(one.stage, len(order))))
