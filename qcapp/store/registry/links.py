"""The buyers' links: found by the hash of their token; every opening is written down."""

from sqlalchemy import Connection, func, insert, select, update

from qcapp.store.tables import LinkOpening, SummaryLink

LINK, OPENING = SummaryLink.__table__, LinkOpening.__table__


def add_link(
    connection: Connection,
    *,
    token_hash: str,
    batch: str,
    label: str,
    made_by: str,
    made_at: str,
    expires_at: str,
) -> None:
    row = {
        "token_hash": token_hash,
        "batch": batch,
        "label": label,
        "made_by": made_by,
        "made_at": made_at,
        "expires_at": expires_at,
    }
    connection.execute(insert(LINK), [row])


def find_link(connection: Connection, token_hash: str, now: str):
    """The row (no, batch, label, expires_at) of a link that is good now, else None."""
    query = select(LINK).where(
        LINK.c.token_hash == token_hash, LINK.c.revoked_at.is_(None), LINK.c.expires_at > now
    )
    return connection.execute(query).first()


def revoke_link(connection: Connection, batch: str, no: int, now: str) -> bool:
    """False when the batch has no such link, or it is revoked already."""
    query = (
        update(LINK)
        .where(LINK.c.no == no, LINK.c.batch == batch, LINK.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    return connection.execute(query).rowcount == 1


def add_opening(connection: Connection, link_no: int, *, opened_at: str, what: str) -> None:
    connection.execute(
        insert(OPENING), [{"link_no": link_no, "opened_at": opened_at, "what": what}]
    )


def list_links(connection: Connection, batch: str) -> list:
    """Rows (link, openings, last_opened_at) of a batch, newest first."""
    query = (
        select(
            LINK,
            func.count(OPENING.c.no).label("openings"),
            func.max(OPENING.c.opened_at).label("last_opened_at"),
        )
        .select_from(LINK.outerjoin(OPENING, OPENING.c.link_no == LINK.c.no))
        .where(LINK.c.batch == batch)
        .group_by(LINK.c.no)
        .order_by(LINK.c.no.desc())
    )
    return list(connection.execute(query))


def list_openings(connection: Connection, batch: str, limit: int = 50) -> list:
    """Rows (label, opened_at, what) of a batch's links, newest first."""
    query = (
        select(LINK.c.label, OPENING.c.opened_at, OPENING.c.what)
        .select_from(LINK.join(OPENING, OPENING.c.link_no == LINK.c.no))
        .where(LINK.c.batch == batch)
        .order_by(OPENING.c.no.desc())
        .limit(limit)
    )
    return list(connection.execute(query))
