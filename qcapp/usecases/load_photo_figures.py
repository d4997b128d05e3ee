"""How photos' proposals and recorded values differ, over the newest articles."""

from qcapp.inspection.stove import fold_stove
from qcapp.reports.photo_figures import (
    FigureComparison,
    PhotoFigure,
    compare_photo_figures,
    list_photo_figures,
)
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries.photo_answers import list_photo_stoves
from qcapp.store.registry.checklists import load_checklists
from qcapp.usecases.load_measuring import NEWEST


def load_photo_figures(store: Store) -> list[FigureComparison]:
    """Each photo counts once for a check, as the record stands now."""
    with store.reading() as connection:
        keys = list_photo_stoves(connection, newest=NEWEST)
        if not keys:
            return []
        events = log.list_stove_events(connection, keys)
        states = [fold_stove(events[key]) for key in keys]
        inspections = [one for state in states for one in state["inspections"]]
        hashes = {one["checklist_hash"] for one in inspections}
        checklists = load_checklists(connection, hashes)
    # An answer that a later inspection repeats is the same comparison, the newest one counts.
    found: dict[tuple[str, str, str], PhotoFigure] = {
        (one["stove"], figure.check.id, figure.holes["photo"]): figure
        for one in inspections
        if one["checklist_hash"] in checklists
        for figure in list_photo_figures(checklists[one["checklist_hash"]], one["body"])
    }
    return compare_photo_figures(found.values())
