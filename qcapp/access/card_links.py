"""An artisan's link to his or her card: 256 random bits, no account; it ends and can be ended."""

from datetime import datetime, timedelta

from qcapp.access.links import LONGEST_TOKEN, refuse_link
from qcapp.access.secret import hash_token, make_token
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import card_links
from qcapp.store.registry.card_links import CardLink
from qcapp.store.timestamps import format_timestamp


def make_card_link(
    store: Store, *, artisan: str, language: str | None, made_by: str, days: int, now: datetime
) -> str:
    """The token of a fresh link; shown once, since only its hash is kept."""
    token = make_token()
    with store.writing() as connection:
        card_links.add_card_link(
            connection,
            token_hash=hash_token(token),
            artisan=artisan,
            language=language,
            made_by=made_by,
            made_at=format_timestamp(now),
            expires_at=format_timestamp(now + timedelta(days=days)),
        )
    return token


def open_card_link(store: Store, token: str, now: datetime) -> CardLink:
    """Raises NotFound, in the same words for a token that is unknown, too old or ended."""
    if len(token) <= LONGEST_TOKEN:
        with store.reading() as connection:
            found = card_links.find_card_link(connection, hash_token(token), format_timestamp(now))
            if found is not None:
                return found
    raise refuse_link()


def end_card_link(store: Store, *, artisan: str, no: int, now: datetime) -> None:
    """Raises NotFound."""
    with store.writing() as connection:
        if not card_links.revoke_card_link(connection, artisan, no, format_timestamp(now)):
            raise NotFound(
                phrase("this artisan has no such valid link"),
                str(no),
                phrase("reload the artisan's card"),
            )
