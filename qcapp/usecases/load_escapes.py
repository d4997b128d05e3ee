"""Loads what each stage let through, of the pieces that records follow from stage to stage."""

from dataclasses import replace

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.escapes import find_pieces
from qcapp.inspection.filters import Filters
from qcapp.reports.escapes import (
    StageEscapes,
    build_escape_report,
    list_caught_by,
    list_wanted_checks,
)
from qcapp.store.engine import Store
from qcapp.store.queries import escape_queries


def load_escapes(store: Store, history: ChecklistHistory, filters: Filters) -> list[StageEscapes]:
    """Later looks are first passes under the filters' days, batch and size; what the earlier
    stage saw may be older.
    """
    asked = replace(filters, stage=None, trade=None, has_rework=False)
    wanted = list_wanted_checks(list_caught_by(history))
    with store.reading() as connection:
        later = escape_queries.list_later_articles(connection, asked)
        links = escape_queries.list_links_down(connection, later)
        keys = {*later, *(link.from_key for link in links)}
        looks = escape_queries.list_looks(connection, keys, wanted)
    return build_escape_report(find_pieces(links, later), looks, {*later}, history)
