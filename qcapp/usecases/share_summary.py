"""Give a buyer a link to the summaries of a batch."""

from datetime import datetime

from qcapp.access.summary_links import make_summary_link
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry.batches import get_batch


def share_summary(
    store: Store, settings: Settings, code: str, *, label: str, by: str, now: datetime
) -> str:
    """The token of the link. Raises NotFound, and Clash where no summary was issued."""
    with store.reading() as connection:
        get_batch(connection, code)
        if not summaries.list_summaries(connection, code):
            raise Clash(
                phrase("no summary of this batch has been issued"),
                code,
                phrase("issue one first; the link opens it"),
            )
    return make_summary_link(
        store, batch=code, label=label, made_by=by, days=settings.link_days, now=now
    )
