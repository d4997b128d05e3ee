"""Published checklists: frozen by their hash, kept for ever."""

import json
from collections.abc import Iterable

from sqlalchemy import Connection, insert, select, update

from qcapp.checklist.model import Checklist
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import Revision

REVISION = Revision.__table__
# A server's own: its shipped files, and what its yard lead made of them.
OWN = ("file", "yard")


def publish_checklist(
    connection: Connection, checklist: Checklist, *, origin: str, now: str
) -> None:
    """Freezes a revision. The same content again changes nothing.

    origin: "file" (shipped with this server), "yard" (the lead's own) or "phone" (a definition that came with an event).
    Raises Clash when the id and revision were published here with another content. Only a shipped file may come with a
    number that the yard's own revision has taken: it is kept beside that one, which stays the current.
    """
    kept = connection.execute(
        select(REVISION.c.origin).where(REVISION.c.hash == checklist.hash)
    ).scalar()
    if kept == origin or kept in OWN:
        return
    if origin in OWN:
        _refuse_other_content(connection, checklist, ("file",) if origin == "file" else OWN)
    if kept == "phone":
        # A phone brought it first; now it is this yard's own.
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


def _refuse_other_content(
    connection: Connection, checklist: Checklist, origins: tuple[str, ...]
) -> None:
    same = select(REVISION.c.hash).where(
        REVISION.c.checklist_id == checklist.id,
        REVISION.c.revision == checklist.revision,
        REVISION.c.origin.in_(origins),
    )
    if connection.execute(same).first():
        raise Clash(
            phrase("this revision was already published with other content"),
            f"{checklist.id} revision {checklist.revision}",
            phrase(
                "a published revision is never edited; write revision: %(revision)s into the file",
                revision=checklist.revision + 1,
            ),
        )


def find_checklist(connection: Connection, checklist_hash: str) -> Checklist | None:
    text = connection.execute(
        select(REVISION.c.compiled).where(REVISION.c.hash == checklist_hash)
    ).scalar()
    return Checklist.from_compiled(json.loads(text)) if text else None


def load_checklists(connection: Connection, hashes: Iterable[str]) -> dict[str, Checklist]:
    """The checklists of the given hashes that are known here, by hash."""
    wanted = sorted({item for item in hashes if isinstance(item, str)})
    rows = connection.execute(
        select(REVISION.c.hash, REVISION.c.compiled).where(REVISION.c.hash.in_(wanted))
    )
    return {row.hash: Checklist.from_compiled(json.loads(row.compiled)) for row in rows}


def list_current(connection: Connection) -> list[tuple[str, dict]]:
    """(hash, compiled) of the newest own revision of each checklist, by id.

    What the lead made goes before any file: an update of the program must not put other limits into a yard's place.
    """
    query = (
        select(REVISION)
        .where(REVISION.c.origin.in_(OWN))
        .order_by(REVISION.c.checklist_id, REVISION.c.origin, REVISION.c.revision)
    )
    newest = {row.checklist_id: row for row in connection.execute(query)}
    return [(row.hash, json.loads(row.compiled)) for row in newest.values()]


def list_current_hashes(connection: Connection) -> list[str]:
    """As list_current, without reading the checklists' text."""
    query = (
        select(REVISION.c.checklist_id, REVISION.c.hash)
        .where(REVISION.c.origin.in_(OWN))
        .order_by(REVISION.c.checklist_id, REVISION.c.origin, REVISION.c.revision)
    )
    return list(dict(connection.execute(query).all()).values())


def find_shipped(connection: Connection, checklist_id: str) -> Checklist | None:
    """The newest revision that came as a file of this server; None for a checklist that only this yard has."""
    query = select(REVISION.c.compiled).where(
        REVISION.c.origin == "file", REVISION.c.checklist_id == checklist_id
    )
    text = connection.execute(query.order_by(REVISION.c.revision.desc()).limit(1)).scalar()
    return Checklist.from_compiled(json.loads(text)) if text else None


def list_server_events(connection: Connection) -> list:
    """Rows (hash, checklist_id, revision, origin, published_at) of this server's own, by id, newest first."""
    columns = (
        REVISION.c.hash,
        REVISION.c.checklist_id,
        REVISION.c.revision,
        REVISION.c.origin,
        REVISION.c.published_at,
    )
    query = select(*columns).where(REVISION.c.origin.in_(OWN))
    return list(
        connection.execute(query.order_by(REVISION.c.checklist_id, REVISION.c.revision.desc()))
    )


def list_hashes(connection: Connection) -> list[str]:
    return sorted(connection.execute(select(REVISION.c.hash)).scalars())
