"""The card of one artisan, reckoned from what is stored now."""

from datetime import datetime, timedelta

from qcapp.checklist.history import ChecklistHistory
from qcapp.reports.card import Card, build_card
from qcapp.reports.card_lot import BEFORE_DAYS
from qcapp.settings import Settings
from qcapp.store.engine import Connection
from qcapp.store.queries.card_queries import list_own_tallies


def build_own_card(
    connection: Connection,
    history: ChecklistHistory,
    artisan: str,
    settings: Settings,
    now: datetime,
) -> Card:
    """history: as load_history gives it."""
    since = (now.date() - timedelta(days=BEFORE_DAYS - 1)).isoformat()
    return build_card(
        artisan,
        list_own_tallies(connection, artisan, since),
        history.steps,
        history.stages,
        since=since,
        today=now.date(),
        min_count=settings.min_count,
    )
