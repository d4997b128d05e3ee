"""What a buyer says to a summary: an answer, or what a re-check of the stoves found."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from qcapp.access.links import OpenedLink
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.queries.batch_facts import list_batch_events
from qcapp.sync.server_events import append_server_event

# A person does not answer more often, or check more stoves again; a script that holds the link must
# not fill the log.
MAX_OF_KIND = {"buyer_answer": 100, "recheck": 600}


def record_answer(
    store: Store, link: OpenedLink, *, kind: str, by: str, body: Mapping[str, Any], now: datetime
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
