"""The buyer's link: an address with 256 random bits, no account; it ends and can be taken back."""

from datetime import datetime, timedelta

from qcapp.access.links import LONGEST_TOKEN, refuse_link
from qcapp.access.secret import hash_token, make_token
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import summary_links
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.store.timestamps import format_timestamp


def make_summary_link(
    store: Store, *, batch: str, label: str, made_by: str, days: int, now: datetime
) -> str:
    """The token of a fresh link; shown once, since only its hash is kept."""
    token = make_token()
    with store.writing() as connection:
        summary_links.add_summary_link(
            connection,
            token_hash=hash_token(token),
            batch=batch,
            label=label,
            made_by=made_by,
            made_at=format_timestamp(now),
            expires_at=format_timestamp(now + timedelta(days=days)),
        )
    return token


def open_summary_link(store: Store, token: str, *, what: str | None, now: datetime) -> SummaryLink:
    """The link behind a token, its opening written down. what: the page or file asked for;
    None (a picture inside a page) is not written down.

    Raises NotFound, in the same words for a token that is unknown, too old or taken back.
    """
    if len(token) <= LONGEST_TOKEN:
        with store.writing() as connection:
            found = summary_links.find_summary_link(
                connection, hash_token(token), format_timestamp(now)
            )
            if found is not None:
                if what is not None:
                    summary_links.add_opening(
                        connection, found.no, opened_at=format_timestamp(now), what=what
                    )
                return found
    raise refuse_link()


def revoke_summary_link(store: Store, *, batch: str, no: int, now: datetime) -> None:
    with store.writing() as connection:
        if not summary_links.revoke_summary_link(connection, batch, no, format_timestamp(now)):
            raise NotFound(
                phrase("this batch has no such valid link"),
                str(no),
                phrase("reload the batch's page"),
            )
