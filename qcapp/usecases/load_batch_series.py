"""Batches of each checklist and size, one after another, for the page of control charts."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.checklist.model import Checklist
from qcapp.reports.batch_series import BatchSeries, build_series, list_alone
from qcapp.store.engine import Store
from qcapp.store.queries.batch_series import list_newest_counts
from qcapp.store.registry.checklists import list_current_checklists


@dataclass(frozen=True)
class BatchSeriesView:
    """alone: (checklist, size, batch) of those with one batch only, which nothing is drawn of."""

    series: Sequence[BatchSeries]
    alone: Sequence[tuple[Checklist, str, str]]


def load_batch_series(store: Store) -> BatchSeriesView:
    with store.reading() as connection:
        counts, known = list_newest_counts(connection), list_current_checklists(connection)
    return BatchSeriesView(build_series(counts, known), list_alone(counts, known))
