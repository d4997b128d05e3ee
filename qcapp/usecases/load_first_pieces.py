"""Loads the first pieces of one step."""

from qcapp.checklist.history import StepRef
from qcapp.reports.first_pieces import FirstPieces, count_first_pieces, read_first_pieces
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry.checklists import load_checklists
from qcapp.usecases.trainer_figures import TrainerFigures

# Of all steps: about a year of a small yard with five steps that ask for them.
NEWEST = 2000


def load_first_pieces(store: Store, figures: TrainerFigures, ref: StepRef) -> FirstPieces:
    """Under the days of the trainer's filters; other filters are of stoves."""
    with store.reading() as connection:
        events = log.list_by_kind(connection, "first_piece", newest=NEWEST)
        checklists = load_checklists(connection, {event["checklist_hash"] for event in events})
    pieces = read_first_pieces(events, checklists)
    counted = figures.counted
    return count_first_pieces(pieces, ref, since=counted.since, until=counted.until)
