"""A draft of a checklist, changed one thing at a time and kept on the server.

Every change is checked like a file; what is wrong stays in the draft until it is mended, and only
bars its publication.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from qcapp.checklist.draft_fields import Source, read_source_text
from qcapp.checklist.edit_items import list_of, make_id
from qcapp.checklist.field_types import GROUPS
from qcapp.checklist.items import Step
from qcapp.checklist.reused_codes import list_taken_codes
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import drafts
from qcapp.store.registry.batches import list_open_batches
from qcapp.store.registry.drafts import DraftVersion
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.checklist_draft import Draft, draft_from_text
from qcapp.usecases.checklist_editor import Editor, get_editor
from qcapp.usecases.publish_checklist import clean_drawings


@dataclass(frozen=True)
class Codes:
    """Codes that are taken, because a record may hold them."""

    taken: Mapping[str, frozenset[str]]

    def make(self, source: Source, group: str, words: str) -> str:
        """group: checks, steps, parts, tools, or faults.CHECK and options.CHECK."""
        name, _dot, check_id = group.partition(".")
        here = source.get(name, ()) if name in GROUPS else ()
        if check_id:
            here = [
                one
                for check in source["checks"]
                if check["id"] == check_id
                for one in list_of(check, name)
            ]
        known = {one["id"] for one in here} | self.taken.get(group, frozenset())
        return make_id(words, known, name.rstrip("s"))


Work = Callable[[Source, Codes], Source]


@dataclass(frozen=True)
class OpenDraft:
    """What a page of a draft shows. stored: the newest version, None while nothing is changed;
    checked: the draft as the loader and the comparison see it; codes: those that are taken;
    is_overtaken: another revision was published after the draft was begun; works: steps of all
    checklists here, by code; sizes_in_batches: of the open batches that this checklist inspects.
    """

    editor: Editor
    stored: DraftVersion | None
    source: Source
    checked: Draft
    codes: Codes
    works: Mapping[str, Step]
    sizes_in_batches: frozenset[str]

    @property
    def version(self) -> int:
        return self.stored.version if self.stored else 0

    @property
    def is_overtaken(self) -> bool:
        return self.stored is not None and self.stored.begun_from != self.editor.in_use.hash

    @property
    def is_changed(self) -> bool:
        """Whether the draft says anything else than the revision in use."""
        return self.stored is not None and self.stored.text != _write_in_use(self.editor)

    @property
    def retired(self) -> list[Source]:
        """Checks of older revisions that the draft does not ask, the newest words of each."""
        here = {check["id"] for check in self.source["checks"]}
        found: dict[str, Source] = {}
        for one in self.editor.older:
            for check in as_source(one.compiled())["checks"]:
                if check["id"] not in here:
                    found.setdefault(check["id"], check)
        return list(found.values())


def load_open_draft(store: Store, folder: Path, checklist_id: str) -> OpenDraft:
    """Raises NotFound for a checklist that is not here."""
    editor = get_editor(store, folder, checklist_id)
    with store.reading() as connection:
        stored = drafts.find_draft(connection, checklist_id)
        sizes = frozenset(
            batch["size"]
            for batch in list_open_batches(connection)
            if checklist_id in batch["checklist_ids"]
        )
    # The draft, or the revision in use where none is begun.
    source = read_source_text(stored.text if stored else _write_in_use(editor))
    text = write_yaml({**source, "revision": editor.next_revision})
    steps = list_taken_codes(editor.others).get("steps", frozenset())
    taken = list_taken_codes(editor.older)
    codes = Codes({**taken, "steps": taken.get("steps", frozenset()) | steps})
    works = {step.id: step for one in editor.others for step in one.steps}
    return OpenDraft(editor, stored, source, draft_from_text(editor, text), codes, works, sizes)


def _write_in_use(editor: Editor) -> str:
    return write_yaml(as_source(editor.in_use.compiled()))


def change_draft(
    store: Store,
    draft: OpenDraft,
    work: Work,
    *,
    by: str,
    now: datetime,
    version: int | None = None,
) -> bool:
    """Stores the draft with one more change; False where nothing changed. version: of the draft
    that the page showed, where an older page would overwrite what somebody else typed.

    Raises Clash when another change came in between.
    """
    if version is not None and version != draft.version:
        raise Clash(
            phrase("this draft was changed meanwhile"),
            draft.editor.in_use.id,
            phrase("look at what is there now, then save again"),
        )
    changed = work(draft.source, draft.codes)
    text = write_yaml(changed)
    if text == write_yaml(draft.source):
        return False
    made = DraftVersion(
        draft.editor.in_use.id,
        draft.version + 1,
        text,
        draft.stored.begun_from if draft.stored else draft.editor.in_use.hash,
        by,
        format_timestamp(now),
    )
    with store.writing() as connection:
        drafts.add_version(connection, made)
    return True


def undo_change(store: Store, checklist_id: str) -> None:
    """Takes back the last change of the draft."""
    with store.writing() as connection:
        drafts.undo_version(connection, checklist_id)


def discard_draft(store: Store, checklist_id: str) -> None:
    with store.writing() as connection:
        drafts.delete_draft(connection, checklist_id)
        clean_drawings(connection)
