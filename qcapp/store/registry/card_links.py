"""The artisans' links to their cards, found by the hash of their token.

When one is opened is not written down: nobody shall be asked why he or she did not look.
"""

from typing import NamedTuple

from sqlalchemy import Connection, insert, select

from qcapp.store.registry.link_rows import revoke_link_row, select_valid_link
from qcapp.store.tables import CARD_LINK


class CardLink(NamedTuple):
    """language: None where none was chosen when it was made."""

    no: int
    artisan: str
    language: str | None
    made_by: str
    made_at: str
    expires_at: str
    revoked_at: str | None


def add_card_link(
    connection: Connection,
    *,
    token_hash: str,
    artisan: str,
    language: str | None,
    made_by: str,
    made_at: str,
    expires_at: str,
) -> None:
    row = {
        "token_hash": token_hash,
        "artisan": artisan,
        "language": language,
        "made_by": made_by,
        "made_at": made_at,
        "expires_at": expires_at,
    }
    connection.execute(insert(CARD_LINK), [row])


def find_card_link(connection: Connection, token_hash: str, now: str) -> CardLink | None:
    """None for a link that is not known, ended or too old."""
    query = select_valid_link(CARD_LINK, CardLink._fields, token_hash, now)
    row = connection.execute(query).first()
    return CardLink(*row) if row else None


def list_card_links(connection: Connection, artisan: str | None = None) -> list[CardLink]:
    """Newest first; of one artisan or of all."""
    query = select(*(CARD_LINK.c[name] for name in CardLink._fields)).order_by(
        CARD_LINK.c.no.desc()
    )
    if artisan is not None:
        query = query.where(CARD_LINK.c.artisan == artisan)
    return [CardLink(*row) for row in connection.execute(query)]


def revoke_card_link(connection: Connection, artisan: str, no: int, now: str) -> bool:
    """False when the artisan has no such link, or it is ended already."""
    return revoke_link_row(connection, CARD_LINK, no, CARD_LINK.c.artisan == artisan, now)


def delete_card_links(connection: Connection, artisan: str) -> None:
    """With the name goes what led to it."""
    connection.execute(CARD_LINK.delete().where(CARD_LINK.c.artisan == artisan))
