"""The checklists in use, with what this server keeps of each; drafts that are begun."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qcapp.store.engine import Store
from qcapp.store.registry import checklists, drafts, drawings
from qcapp.usecases.open_store import find_redrawn


@dataclass(frozen=True)
class ChecklistRow:
    """One in use. kept: rows (revision, origin, published_at, ...) of this server's own, newest
    first. redrawn: names of its drawings whose file is another one by now.
    """

    current: Mapping[str, Any]
    kept: Sequence[Any]
    redrawn: Sequence[str] = ()

    @property
    def is_shipped(self) -> bool:
        return all(row.origin == "file" for row in self.kept)

    @property
    def has_newer_file(self) -> bool:
        """A file came after the lead's own; it stays what a change is compared with."""
        newest = max((row.revision for row in self.kept if row.origin == "file"), default=0)
        return not self.is_shipped and newest >= int(self.current["revision"])


def list_rows(store: Store, folder: Path) -> list[ChecklistRow]:
    """folder: of the checklists' files."""
    with store.reading() as connection:
        current = checklists.list_current_definitions(connection)
        own = checklists.list_revisions(connection)
        shown = {key: drawings.list_drawings(connection, key) for key, _compiled in current}
    return [
        ChecklistRow(
            compiled,
            [row for row in own if row.checklist_id == compiled["id"]],
            find_redrawn(folder, shown[key]),
        )
        for key, compiled in current
    ]


def load_drafts(store: Store) -> dict[str, drafts.DraftVersion]:
    """Those that are begun, by the checklist's id."""
    with store.reading() as connection:
        return drafts.list_drafts(connection)
