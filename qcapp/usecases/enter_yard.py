"""Enter people and batches of a YAML file, or change those whose code is already here."""

from pathlib import Path

from qcapp.scenario.yard_file import YardFile, load_yard_file
from qcapp.store.engine import Store
from qcapp.store.registry import batches, people
from qcapp.store.registry.checklists import list_current_checklists


def enter_yard(store: Store, file: Path) -> YardFile:
    """All of the file or nothing. Raises BadInput with the first key that does not fit."""
    with store.writing() as connection:
        current = {checklist.id: checklist for checklist in list_current_checklists(connection)}
        found = load_yard_file(file, current)
        people.save_people(connection, found.list_people())
        batches.save_batches(connection, found.list_batches())
    return found
