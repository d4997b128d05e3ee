"""The buyers' links: found by the hash of their token; every opening is written down."""

from typing import NamedTuple

from sqlalchemy import Connection, func, insert, select

from qcapp.store.registry.link_rows import revoke_link_row, select_valid_link
from qcapp.store.tables import LINK_OPENING, SUMMARY_LINK


class SummaryLink(NamedTuple):
    """What a valid token opens."""

    no: int
    batch: str
    label: str
    expires_at: str


class LinkEntry(NamedTuple):
    """A link as its batch's page lists it."""

    no: int
    label: str
    made_by: str
    made_at: str
    expires_at: str
    revoked_at: str | None
    openings: int
    last_opened_at: str | None


class Opening(NamedTuple):
    label: str
    opened_at: str
    what: str


def add_summary_link(
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
    connection.execute(insert(SUMMARY_LINK), [row])


def find_summary_link(connection: Connection, token_hash: str, now: str) -> SummaryLink | None:
    """None for a link that is not known, revoked or too old."""
    query = select_valid_link(SUMMARY_LINK, SummaryLink._fields, token_hash, now)
    row = connection.execute(query).first()
    return SummaryLink(*row) if row else None


def revoke_summary_link(connection: Connection, batch: str, no: int, now: str) -> bool:
    """False when the batch has no such link, or it is revoked already."""
    return revoke_link_row(connection, SUMMARY_LINK, no, SUMMARY_LINK.c.batch == batch, now)


def add_opening(connection: Connection, link_no: int, *, opened_at: str, what: str) -> None:
    connection.execute(
        insert(LINK_OPENING), [{"link_no": link_no, "opened_at": opened_at, "what": what}]
    )


def list_summary_links(connection: Connection, batch: str) -> list[LinkEntry]:
    """Of a batch, newest first."""
    columns = [SUMMARY_LINK.c[name] for name in LinkEntry._fields[:-2]]
    query = (
        select(*columns, func.count(LINK_OPENING.c.no), func.max(LINK_OPENING.c.opened_at))
        .select_from(
            SUMMARY_LINK.outerjoin(LINK_OPENING, LINK_OPENING.c.link_no == SUMMARY_LINK.c.no)
        )
        .where(SUMMARY_LINK.c.batch == batch)
        .group_by(SUMMARY_LINK.c.no)
        .order_by(SUMMARY_LINK.c.no.desc())
    )
    return [LinkEntry._make(row) for row in connection.execute(query)]


def list_openings(connection: Connection, batch: str, limit: int = 50) -> list[Opening]:
    """Of a batch's links, newest first."""
    query = (
        select(SUMMARY_LINK.c.label, LINK_OPENING.c.opened_at, LINK_OPENING.c.what)
        .select_from(SUMMARY_LINK.join(LINK_OPENING, LINK_OPENING.c.link_no == SUMMARY_LINK.c.no))
        .where(SUMMARY_LINK.c.batch == batch)
        .order_by(LINK_OPENING.c.no.desc())
        .limit(limit)
    )
    return [Opening(*row) for row in connection.execute(query)]
