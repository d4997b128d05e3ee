"""Checklists: those in use, one by its id, every revision there is."""

from qcapp.checklist.model import Checklist
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklists


def list_current(connection: Connection) -> list[Checklist]:
    """The newest own revision of each checklist, by id."""
    return checklists.list_current_checklists(connection)


def get_current(connection: Connection, checklist_id: str) -> Checklist:
    """Raises NotFound."""
    return checklists.get_current_checklist(connection, checklist_id)


def load_current(store: Store, checklist_id: str) -> Checklist:
    """Raises NotFound."""
    with store.reading() as connection:
        return get_current(connection, checklist_id)


def list_revisions(connection: Connection) -> list[tuple[str, Checklist]]:
    """Every revision by its hash, since a sheet may be older than the newest: by id, newest
    first.
    """
    found = checklists.load_checklists(connection, checklists.list_hashes(connection))
    return sorted(found.items(), key=lambda item: (item[1].id, -item[1].revision))
