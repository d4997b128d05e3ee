"""Batches of each checklist and size, one after another, for the page of control charts."""

from qcapp.reports.batch_series import BatchSeries, build_series
from qcapp.store.engine import Store
from qcapp.store.queries.batch_series import list_newest_counts
from qcapp.store.registry.checklists import list_current_checklists


def load_batch_series(store: Store) -> list[BatchSeries]:
    with store.reading() as connection:
        return build_series(list_newest_counts(connection), list_current_checklists(connection))
