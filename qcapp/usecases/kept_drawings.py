"""The drawings and pictures of published checklists, as pages and papers ask for them."""

from collections.abc import Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.store.engine import Store
from qcapp.store.registry import drawings

MAX_KEPT = 200
MAX_CHECKLISTS = 20
# In place of a drawing that is nowhere: a page or a paper goes on with its words and figures.
BLANK = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 216"/>'


class KeptDrawings:
    """Those of one database. What a revision shows under a name never changes, so that it is read
    once.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._read: dict[tuple[str, str], str] = {}
        self._all: dict[str, Mapping[str, str]] = {}

    def find(self, checklist_hash: str, name: str) -> str | None:
        """The SVG text, None where no revision here has one of that name."""
        key = (checklist_hash, name)
        if key not in self._read:
            with self._store.reading() as connection:
                found = drawings.find_drawing(connection, checklist_hash, name)
            if found is None:
                return None
            if len(self._read) >= MAX_KEPT:
                self._read.clear()
            self._read[key] = found
        return self._read[key]

    def get(self, checklist: Checklist) -> str:
        """The drawing of a checklist, an empty one where there is none."""
        return self.find(checklist.hash, checklist.drawing) or BLANK

    def find_of_summary(self, document: Mapping[str, Any]) -> str | None:
        """The drawing that an issued summary names, as its revision had it."""
        return self.find(document["checklist"]["hash"], document["drawing"])

    def list_all(self, checklist: Checklist) -> Mapping[str, str]:
        """All that shows a checklist, by name (list_shown)."""
        if checklist.hash not in self._all:
            with self._store.reading() as connection:
                found = drawings.list_shown_here(connection, checklist.hash, checklist.compiled())
            if len(self._all) >= MAX_CHECKLISTS:
                self._all.clear()
            self._all[checklist.hash] = found
        return self._all[checklist.hash]
