"""Stoves whose records keep what a photo proposed."""

from sqlalchemy import Connection, select

from qcapp.store.tables import INSPECTION, LOG, STOVE

# As it stands in the text of a record, which is canonical JSON.
KEPT_PHOTO = '"overlay":"'


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
        .where(
            STOVE.c.no.in_(select(chosen.c.stove_no)),
            LOG.c.state == "counted",
            LOG.c.raw.contains(KEPT_PHOTO, autoescape=True),
        )
        .distinct()
        .order_by(STOVE.c.stove_key)
    )
    return list(connection.execute(query).scalars())
