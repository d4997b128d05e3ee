"""One checklist in use by its id, and every revision there is."""

from qcapp.checklist.model import Checklist
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklists


def load_current(store: Store, checklist_id: str) -> Checklist:
    """Raises NotFound."""
    with store.reading() as connection:
        return checklists.get_current_checklist(connection, checklist_id)


def list_revisions(connection: Connection) -> list[tuple[str, Checklist]]:
    """Every revision by its hash, since a sheet may be older than the newest: by id, newest
    first.
    """
    found = checklists.load_checklists(connection, checklists.list_hashes(connection))
    return sorted(found.items(), key=lambda item: (item[1].id, -item[1].revision))
