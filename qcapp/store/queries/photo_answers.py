"""Stoves whose records keep what a photo proposed."""

from sqlalchemy import ColumnElement, Connection, select

from qcapp.inspection.batch_facts import PhotoPass
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.tables import INSPECTION, LOG, STOVE

# As it stands in the text of a record, which is canonical JSON.
KEPT_PHOTO = '"overlay":"'
_KEEPS_PHOTO = (LOG.c.state == "counted") & LOG.c.raw.contains(KEPT_PHOTO, autoescape=True)


def list_photo_stoves(connection: Connection, *, newest: int) -> list[str]:
    """Keys of those among the newest first passes (so many articles), in the order of keys."""
    chosen = (
        select(INSPECTION.c.stove_no)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    ).subquery()
    query = (
        select(STOVE.c.stove_key)
        .join(LOG, LOG.c.stove_key == STOVE.c.stove_key)
        .where(STOVE.c.no.in_(select(chosen.c.stove_no)), _KEEPS_PHOTO)
        .distinct()
        .order_by(STOVE.c.stove_key)
    )
    return list(connection.execute(query).scalars())


def list_photo_passes(connection: Connection, here: ColumnElement[bool]) -> tuple[PhotoPass, ...]:
    """As they count now, in the order of keys. here: which stoves are meant, as a condition on the
    table.
    """
    query = (
        select(STOVE.c.stove_key)
        .join(LOG, LOG.c.stove_key == STOVE.c.stove_key)
        .where(here, _KEEPS_PHOTO)
        .distinct()
        .order_by(STOVE.c.stove_key)
    )
    events = log.list_stove_events(connection, connection.execute(query).scalars())
    firsts = (fold_stove(one)["inspections"][0] for one in events.values())
    return tuple(PhotoPass(first["checklist_hash"], first["body"]) for first in firsts)
