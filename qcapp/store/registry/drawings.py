"""What shows a checklist (its drawing, the pictures of its checks and faults): kept with the
revision, each content once, by its SHA-256, so that no changed or lost file takes it from a record
or a summary.
"""

import hashlib
from collections.abc import Iterable, Mapping, Set
from typing import Any, NamedTuple

from sqlalchemy import Connection, delete, insert, select

from qcapp.checklist.drawing import check_shown
from qcapp.checklist.pictures import list_shown
from qcapp.errors import BadInput
from qcapp.store.chunks import chunked
from qcapp.store.registry.checklists import ACCEPTED, PUBLISHED_HERE
from qcapp.store.tables import DRAWING, REVISION, REVISION_DRAWING


class RefusedDrawing(NamedTuple):
    """One that came with a checklist from a phone and was not let in. source: never shown."""

    name: str
    source: str


def keep_drawings(connection: Connection, checklist_hash: str, shown: Mapping[str, str]) -> None:
    """Keeps SVG texts by name (as list_shown gives it) with a revision; what it has already stays.

    Raises BadInput for one that holds anything that is not on the list: none gets in unchecked.
    """
    known = list_digests(connection, [checklist_hash])[checklist_hash]
    added = {name: source for name, source in shown.items() if name not in known}
    for name, source in added.items():
        check_shown(name, source)
    digests = {name: hashlib.sha256(source.encode()).hexdigest() for name, source in added.items()}
    _keep(connection, {digests[name]: source for name, source in added.items()})
    for names in chunked(added):
        refused = (
            REVISION_DRAWING.c.revision_hash == checklist_hash,
            REVISION_DRAWING.c.name.in_(names),
        )
        connection.execute(delete(REVISION_DRAWING).where(*refused))
        rows = [
            {"revision_hash": checklist_hash, "name": name, "sha256": digests[name]}
            for name in names
        ]
        connection.execute(insert(REVISION_DRAWING), rows)


def keep_brought(connection: Connection, checklist_hash: str, name: str, source: str) -> None:
    """As keep_drawings for one that a phone brought; one that is not let in is kept as refused."""
    query = select(REVISION_DRAWING.c.name).where(
        REVISION_DRAWING.c.revision_hash == checklist_hash, REVISION_DRAWING.c.name == name
    )
    if connection.execute(query).first() is not None:
        return
    try:
        keep_drawings(connection, checklist_hash, {name: source})
    except BadInput:
        row = {"revision_hash": checklist_hash, "name": name, "refused": source}
        connection.execute(insert(REVISION_DRAWING), [row])


def has_all(connection: Connection, checklist_hash: str, names: Set[str]) -> bool:
    return names <= list_digests(connection, [checklist_hash])[checklist_hash].keys()


def _keep(connection: Connection, sources: Mapping[str, str]) -> None:
    """SVG texts by SHA-256, those that are not here yet."""
    for digests in chunked(sources):
        query = select(DRAWING.c.sha256).where(DRAWING.c.sha256.in_(digests))
        known = set(connection.execute(query).scalars())
        rows = [{"sha256": key, "svg": sources[key]} for key in digests if key not in known]
        if rows:
            connection.execute(insert(DRAWING), rows)


def find_drawing(connection: Connection, checklist_hash: str, name: str) -> str | None:
    """The SVG text under a name in a revision; where that revision has none (a phone brought it
    without), that of the newest one published here with the same name.
    """
    named = (
        select(DRAWING.c.svg)
        .join(REVISION_DRAWING, REVISION_DRAWING.c.sha256 == DRAWING.c.sha256)
        .where(REVISION_DRAWING.c.name == name)
    )
    own = named.where(REVISION_DRAWING.c.revision_hash == checklist_hash)
    published = (
        named.join(REVISION, REVISION.c.hash == REVISION_DRAWING.c.revision_hash)
        .where(REVISION.c.origin.in_(PUBLISHED_HERE))
        .order_by(REVISION.c.published_at.desc(), REVISION.c.revision.desc(), REVISION.c.hash)
        .limit(1)
    )
    found: str | None = connection.execute(own).scalar()
    return found if found is not None else connection.execute(published).scalar()


def list_drawings(connection: Connection, checklist_hash: str) -> dict[str, str]:
    """SVG text by name of all that a revision keeps."""
    query = (
        select(REVISION_DRAWING.c.name, DRAWING.c.svg)
        .join(DRAWING, REVISION_DRAWING.c.sha256 == DRAWING.c.sha256)
        .where(REVISION_DRAWING.c.revision_hash == checklist_hash)
        .order_by(REVISION_DRAWING.c.name)
    )
    return {row.name: row.svg for row in connection.execute(query)}


def list_shown_here(
    connection: Connection, checklist_hash: str, compiled: dict[str, Any]
) -> dict[str, str]:
    """SVG text by name of all that shows a checklist: its own, else that of find_drawing."""
    found = list_drawings(connection, checklist_hash)
    for name in sorted(list_shown(compiled) - found.keys()):
        other = find_drawing(connection, checklist_hash, name)
        if other is not None:
            found[name] = other
    return dict(sorted(found.items()))


def list_digests(connection: Connection, hashes: Iterable[str]) -> dict[str, dict[str, str]]:
    """{revision: {name: SHA-256}}, without reading a drawing."""
    found: dict[str, dict[str, str]] = {key: {} for key in hashes}
    query = (
        select(REVISION_DRAWING.c.revision_hash, REVISION_DRAWING.c.name, REVISION_DRAWING.c.sha256)
        .where(
            REVISION_DRAWING.c.revision_hash.in_(list(found)),
            REVISION_DRAWING.c.sha256.is_not(None),
        )
        .order_by(REVISION_DRAWING.c.revision_hash, REVISION_DRAWING.c.name)
    )
    for row in connection.execute(query):
        found[row.revision_hash][row.name] = row.sha256
    return found


def list_refused(connection: Connection, checklist_hash: str) -> list[RefusedDrawing]:
    query = (
        select(REVISION_DRAWING.c.name, REVISION_DRAWING.c.refused)
        .where(
            REVISION_DRAWING.c.revision_hash == checklist_hash,
            REVISION_DRAWING.c.refused.is_not(None),
        )
        .order_by(REVISION_DRAWING.c.name)
    )
    return [RefusedDrawing(*row) for row in connection.execute(query)]


def list_undrawn(connection: Connection) -> list[str]:
    """Hashes of revisions in use here that keep no drawing yet: published by an older version."""
    drawn = select(REVISION_DRAWING.c.revision_hash)
    query = select(REVISION.c.hash).where(
        REVISION.c.origin.in_((*PUBLISHED_HERE, ACCEPTED)), REVISION.c.hash.not_in(drawn)
    )
    return sorted(connection.execute(query).scalars())
