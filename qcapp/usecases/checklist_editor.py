"""What a page needs that changes a checklist: its revisions, the others in use, what is drawn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from qcapp.checklist.earlier_checks import ChecksByStage, list_check_ids
from qcapp.checklist.edit_items import copy_as_new
from qcapp.checklist.model import Checklist
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import checklists, drawings, yard_drawings


@dataclass(frozen=True)
class Editor:
    """What a page works on. shipped: None for a checklist only this yard has; current: None for one
    that is new; next_revision: of the id; by_stage: ids of the checks that are here; older: every
    revision of the id, the newest first; drawn: SVG by name of the drawings that the yard uploaded;
    others: every checklist in use; shown: what the current one keeps of drawings and pictures.
    """

    shipped: Checklist | None
    current: Checklist | None
    next_revision: int
    folder: Path
    by_stage: ChecksByStage
    older: Sequence[Checklist] = ()
    drawn: Mapping[str, str] = field(default_factory=dict)
    others: Sequence[Checklist] = ()
    shown: Mapping[str, str] = field(default_factory=dict)

    @property
    def in_use(self) -> Checklist:
        """The current one, of an editor that get_editor gave."""
        if self.current is None:
            raise LookupError("this checklist is new")
        return self.current


def load_editor(store: Store, folder: Path, checklist_id: str) -> Editor:
    with store.reading() as connection:
        in_use = {one.id: one for one in checklists.list_current_checklists(connection)}
        newest = checklists.find_newest_revision(connection, checklist_id)
        shipped = {one: checklists.find_shipped(connection, one) for one in {*in_use, checklist_id}}
        older = checklists.list_revisions_of(connection, checklist_id)
        drawn = yard_drawings.load_drawings(connection)
        current = in_use.get(checklist_id)
        shown = drawings.list_drawings(connection, current.hash) if current else {}
    known = [*in_use.values(), *(one for one in shipped.values() if one)]
    return Editor(
        shipped[checklist_id],
        current,
        newest + 1,
        folder,
        # A check that the yard left out of its own checklist may still be named.
        list_check_ids(known),
        older,
        drawn,
        tuple(in_use.values()),
        shown,
    )


def write_copy(store: Store, folder: Path, checklist_id: str, title: str) -> str:
    """YAML of a new checklist that begins as this one. Raises NotFound for one that is not here."""
    editor = get_editor(store, folder, checklist_id)
    taken = {one.id for one in editor.others}
    return write_yaml(copy_as_new(as_source(editor.in_use.compiled()), title, taken))


def get_editor(store: Store, folder: Path, checklist_id: str) -> Editor:
    """Raises NotFound for an id that is not here."""
    editor = load_editor(store, folder, checklist_id)
    if editor.current is None:
        raise NotFound(
            phrase("there is no such checklist"), checklist_id, phrase("see the list of checklists")
        )
    return editor
