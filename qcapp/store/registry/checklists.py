"""Published checklists: frozen by their hash, kept for ever."""

import functools
import json
import re
from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    bindparam,
    func,
    insert,
    select,
    update,
)

from qcapp.checklist.history import ChecklistHistory
from qcapp.checklist.model import Checklist
from qcapp.errors import Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import CHECK_KEY, REVISION

# Published here: files shipped with this server, and what its yard lead made of them.
PUBLISHED_HERE = ("file", "yard")
# It came with a phone's records; nobody here has looked at it yet, or the lead has.
BROUGHT, ACCEPTED = "phone", "accepted"
# Whatever else a record names is none, and a database may not even look for it.
HASH = re.compile("[0-9a-f]{64}")


class Definition(NamedTuple):
    """A checklist as phones get it; compiled: its JSON."""

    hash: str
    compiled: dict[str, Any]


class KeptChecklist(NamedTuple):
    """origin: see publish_checklist."""

    checklist: Checklist
    origin: str


class Revision(NamedTuple):
    hash: str
    checklist_id: str
    revision: int
    origin: str
    published_at: str


def publish_checklist(
    connection: Connection, checklist: Checklist, *, origin: str, now: str
) -> None:
    """Freezes a revision. The same content again changes nothing.

    origin: "file" (shipped with this server), "yard" (made by the lead), BROUGHT (a definition
    that came with an event) or ACCEPTED (such a one, once the lead lets records count by it; it
    is never offered to a phone). Raises Clash when the id and revision were published here with
    another content. Only a shipped file may come with a number that the yard's revision has
    taken: it is kept beside that one, which stays the current.
    """
    kept = connection.execute(
        select(REVISION.c.origin).where(REVISION.c.hash == checklist.hash)
    ).scalar()
    if kept == origin or kept in PUBLISHED_HERE or (kept == ACCEPTED and origin == BROUGHT):
        return
    if origin in PUBLISHED_HERE:
        _refuse_other_content(connection, checklist, origin)
    if kept is not None:
        # A phone brought it first; now it is accepted or published here.
        connection.execute(
            update(REVISION).where(REVISION.c.hash == checklist.hash).values(origin=origin)
        )
        return
    row = {
        "hash": checklist.hash,
        "checklist_id": checklist.id,
        "revision": checklist.revision,
        "stage": checklist.stage,
        "origin": origin,
        "published_at": now,
        "compiled": json.dumps(checklist.compiled(), ensure_ascii=False),
    }
    connection.execute(insert(REVISION), [row])


def _refuse_other_content(connection: Connection, checklist: Checklist, origin: str) -> None:
    same = select(REVISION.c.hash).where(
        REVISION.c.checklist_id == checklist.id,
        REVISION.c.revision == checklist.revision,
        REVISION.c.origin.in_(("file",) if origin == "file" else PUBLISHED_HERE),
    )
    if connection.execute(same).first():
        raise Clash(
            phrase("this revision was already published with different content"),
            f"{checklist.id} revision {checklist.revision}",
            phrase(
                "a published revision is never edited; write revision: %(revision)s into the file",
                revision=checklist.revision + 1,
            ),
        )


# Made once: every push asks it.
_KEPT = select(REVISION.c.hash, REVISION.c.compiled, REVISION.c.origin).where(
    REVISION.c.hash.in_(bindparam("hashes", expanding=True))
)


def load_checklists(connection: Connection, hashes: Iterable[Any]) -> dict[str, Checklist]:
    """The checklists of the given hashes that are known here, by hash."""
    return {key: one.checklist for key, one in load_kept(connection, hashes).items()}


def load_kept(connection: Connection, hashes: Iterable[Any]) -> dict[str, KeptChecklist]:
    """The same, each with its origin."""
    wanted = sorted({item for item in hashes if isinstance(item, str) and HASH.fullmatch(item)})
    rows = connection.execute(_KEPT, {"hashes": wanted})
    return {row.hash: KeptChecklist(_read_checklist(row.compiled), row.origin) for row in rows}


def list_unpublished(connection: Connection, hashes: Iterable[str]) -> frozenset[str]:
    """Those of the hashes that a phone brought along and nobody here accepted."""
    query = select(REVISION.c.hash).where(
        REVISION.c.hash.in_(sorted(hashes)), REVISION.c.origin == BROUGHT
    )
    return frozenset(connection.execute(query).scalars())


def list_hashes(connection: Connection) -> list[str]:
    """Of all that are known here."""
    return sorted(connection.execute(select(REVISION.c.hash)).scalars())


def list_current_definitions(connection: Connection) -> list[Definition]:
    """The newest revision published here of each checklist, by id.

    What the lead made goes before any file: an update of the program must not put other limits
    into a yard's place.
    """
    return [Definition(key, json.loads(text)) for key, text in _list_current_texts(connection)]


def list_current_checklists(connection: Connection) -> list[Checklist]:
    """As list_current_definitions."""
    return [_read_checklist(text) for _hash, text in _list_current_texts(connection)]


def _list_current_texts(connection: Connection) -> list[tuple[str, str]]:
    """[(hash, compiled)]"""
    query = _select_published(REVISION.c.checklist_id, REVISION.c.hash, REVISION.c.compiled)
    newest = {row.checklist_id: (row.hash, row.compiled) for row in connection.execute(query)}
    return list(newest.values())


def list_current_hashes(connection: Connection) -> list[str]:
    """As list_current_definitions, without reading the checklists' text."""
    query = _select_published(REVISION.c.checklist_id, REVISION.c.hash)
    return list({row.checklist_id: row.hash for row in connection.execute(query)}.values())


def _select_published(*columns: ColumnElement[Any]) -> Select[Any]:
    """The current revision of each checklist comes last."""
    return (
        select(*columns)
        .where(REVISION.c.origin.in_(PUBLISHED_HERE))
        .order_by(REVISION.c.checklist_id, REVISION.c.origin, REVISION.c.revision)
    )


def load_history(connection: Connection) -> ChecklistHistory:
    """The current checklists, with every other revision that something was judged by."""
    query = _select_published(REVISION.c.checklist_id, REVISION.c.hash)
    current = {row.checklist_id: row.hash for row in connection.execute(query)}.values()
    used = connection.execute(select(CHECK_KEY.c.checklist_hash).distinct()).scalars().all()
    found = load_checklists(connection, {*current, *used})
    return ChecklistHistory(
        {key: found[key] for key in current},
        {key: found[key] for key in used if key in found and key not in set(current)},
    )


def get_current_checklist(connection: Connection, checklist_id: str) -> Checklist:
    """Raises NotFound."""
    current = {found["id"]: found for _hash, found in list_current_definitions(connection)}
    if checklist_id not in current:
        raise NotFound(
            phrase("there is no such checklist"),
            checklist_id,
            phrase("choose one of %(current)s", current=sorted(current)),
        )
    return Checklist.from_compiled(current[checklist_id])


def find_shipped(connection: Connection, checklist_id: str) -> Checklist | None:
    """The newest revision that came as a file; None for a checklist that only this yard has."""
    query = select(REVISION.c.compiled).where(
        REVISION.c.origin == "file", REVISION.c.checklist_id == checklist_id
    )
    text = connection.execute(query.order_by(REVISION.c.revision.desc()).limit(1)).scalar()
    return _read_checklist(text) if text else None


def find_newest_revision(connection: Connection, checklist_id: str) -> int:
    """Of those published here, 0 when there is none."""
    query = select(func.max(REVISION.c.revision)).where(
        REVISION.c.checklist_id == checklist_id, REVISION.c.origin.in_(PUBLISHED_HERE)
    )
    return connection.execute(query).scalar() or 0


def list_revisions(connection: Connection) -> list[Revision]:
    """Those published here, by id, newest first."""
    columns = (REVISION.c[name] for name in Revision._fields)
    query = select(*columns).where(REVISION.c.origin.in_(PUBLISHED_HERE))
    rows = connection.execute(query.order_by(REVISION.c.checklist_id, REVISION.c.revision.desc()))
    return [Revision(*row) for row in rows]


def list_revisions_of(connection: Connection, checklist_id: str) -> list[Checklist]:
    """Every revision that anything here was or may be judged by, the newest first."""
    query = select(REVISION.c.compiled).where(
        REVISION.c.checklist_id == checklist_id, REVISION.c.origin != BROUGHT
    )
    ordered = query.order_by(REVISION.c.revision.desc(), REVISION.c.hash)
    return [_read_checklist(text) for text in connection.execute(ordered).scalars()]


@functools.lru_cache(maxsize=16)
def _read_checklist(text: str) -> Checklist:
    """Known by its whole text: every push and page reads the same few, which nothing changes."""
    return Checklist.from_compiled(json.loads(text))
