"""What a buyer says to a summary, and what the yard replies."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from qcapp.errors import Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import ServerEvent, list_buyers_words
from qcapp.reports.summary import build_mask
from qcapp.store.engine import Connection, Store
from qcapp.store.queries.batch_facts import list_batch_events
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.issue_summary import list_maker_words

# A person does not answer more often, or check more stoves again; a script that holds the link must
# not fill the log.
MAX_OF_KIND = {"buyer_answer": 100, "recheck": 600}


def record_answer(
    store: Store, link: SummaryLink, *, kind: str, by: str, body: Mapping[str, Any], now: datetime
) -> None:
    """kind: a key of MAX_OF_KIND. Raises Clash when the batch has as many as are kept."""
    with store.writing() as connection:
        before = [
            event for event in list_batch_events(connection, link.batch) if event.kind == kind
        ]
        if len(before) >= MAX_OF_KIND[kind]:
            raise Clash(
                phrase("this batch has no room for more answers"),
                "",
                phrase("call the yard"),
            )
        append_server_event(
            connection, kind=kind, recorder=by, body=body, now=now, batch=link.batch
        )


def record_reply(
    store: Store, code: str, *, answers: str, note: str, by: str, now: datetime
) -> None:
    """answers: hash of what the buyer wrote. Raises NotFound where that is not of this batch, and
    BadInput without a note.
    """
    with store.writing() as connection:
        words = list_buyers_words(list_batch_events(connection, code))
        if answers not in [word.hash for word in words]:
            raise NotFound(
                phrase("this batch has no such word of a buyer"),
                code,
                phrase("see the list on the batch's page"),
            )
        body = {"answers": answers, "note": note}
        append_server_event(connection, kind="reply", recorder=by, body=body, now=now, batch=code)


def list_words_for_buyer(connection: Connection, code: str) -> list[ServerEvent]:
    """What buyers wrote, newest first, each with the yard's replies, in which no maker is named."""
    hide = build_mask(list_maker_words(connection))
    words = list_buyers_words(list_batch_events(connection, code))
    return [
        replace(word, replies=tuple(_hide_makers(reply, hide) for reply in word.replies))
        for word in words
    ]


def _hide_makers(reply: ServerEvent, hide: Callable[[str], str]) -> ServerEvent:
    return replace(reply, body={**reply.body, "note": hide(reply.body["note"])})
