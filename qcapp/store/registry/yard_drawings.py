"""Drawings that the yard uploaded, by name; a name holds a hash of what is in it."""

from collections.abc import Collection

from sqlalchemy import Connection, delete, insert, select, update

from qcapp.store.tables import YARD_DRAWING


def save_drawing(connection: Connection, *, name: str, svg: str, now: str) -> None:
    """The same drawing again changes nothing."""
    known = select(YARD_DRAWING.c.name).where(YARD_DRAWING.c.name == name)
    if connection.execute(known).first() is None:
        row = {"name": name, "svg": svg, "made_at": now, "is_published": False}
        connection.execute(insert(YARD_DRAWING), [row])


def load_drawings(connection: Connection, *, only_published: bool = False) -> dict[str, str]:
    """SVG text by name."""
    query = select(YARD_DRAWING.c.name, YARD_DRAWING.c.svg).order_by(YARD_DRAWING.c.name)
    if only_published:
        query = query.where(YARD_DRAWING.c.is_published.is_(True))
    return {row.name: row.svg for row in connection.execute(query)}


def publish_drawing(connection: Connection, name: str) -> None:
    """From now on it goes to phones; nothing happens for a name that is not here."""
    query = update(YARD_DRAWING).where(YARD_DRAWING.c.name == name)
    connection.execute(query.values(is_published=True))


def delete_unused(connection: Connection, used: Collection[str]) -> None:
    """Those that no published revision names, but for those in use by drafts."""
    is_unused = YARD_DRAWING.c.is_published.is_(False) & YARD_DRAWING.c.name.not_in(sorted(used))
    connection.execute(delete(YARD_DRAWING).where(is_unused))
