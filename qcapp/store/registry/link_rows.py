"""What a buyer's and an artisan's link share as rows: a hash to be found by, two ways to end."""

from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, Table, select, update


def select_valid_link(
    table: Table, columns: tuple[str, ...], token_hash: str, now: str
) -> Select[Any]:
    """These columns of the link with this hash; no row when it is unknown, revoked or too old."""
    return select(*(table.c[name] for name in columns)).where(
        table.c.token_hash == token_hash,
        table.c.revoked_at.is_(None),
        table.c.expires_at > now,
    )


def revoke_link_row(
    connection: Connection, table: Table, no: int, belongs: ColumnElement[bool], now: str
) -> bool:
    """False when no link has this number and belongs there, or it is revoked already."""
    query = (
        update(table)
        .where(table.c.no == no, belongs, table.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    return connection.execute(query).rowcount == 1
