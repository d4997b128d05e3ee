"""Checklists: those in use, one by its id, every revision there is."""

from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklists


def list_current(connection: Connection) -> list[Checklist]:
    """The newest own revision of each checklist, by id."""
    return [
        Checklist.from_compiled(compiled) for _key, compiled in checklists.list_current(connection)
    ]


def get_current(connection: Connection, checklist_id: str) -> Checklist:
    """Raises NotFound."""
    current = {one.id: one for one in list_current(connection)}
    if checklist_id not in current:
        raise NotFound(
            phrase("there is no such checklist"),
            checklist_id,
            phrase("there are %(current)s", current=sorted(current)),
        )
    return current[checklist_id]


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
