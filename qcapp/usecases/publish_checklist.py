"""A checklist in the making: what was typed, as the loader and the comparison see it, and its
publication.
"""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from qcapp.checklist.change_words import Change
from qcapp.checklist.changes import list_changes
from qcapp.checklist.compare import Notice, find_lost_cautions, list_warnings
from qcapp.checklist.earlier_checks import ChecksByStage, find_unknown_checks, list_check_ids
from qcapp.checklist.edit_items import copy_as_new
from qcapp.checklist.load import read_text
from qcapp.checklist.model import Checklist
from qcapp.checklist.reused_codes import find_reused_codes
from qcapp.checklist.source import ChecklistError
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import RULES, SEVERITIES, TRADES, VERDICTS
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklists, drafts, drawings, yard_drawings
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.open_store import find_redrawn, read_shown

NAME = "checklist"
SEEN_DIGITS = 16
# As write_yaml writes it.
DRAWING_LINE = re.compile(r'^drawing: "?([^"\n]+)"?$', re.MULTILINE)
WORDS = {**SEVERITIES, **RULES, **VERDICTS, **TRADES}


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


@dataclass(frozen=True)
class Draft:
    """checklist: None while there are errors; changes: from the revision in use."""

    text: str
    checklist: Checklist | None
    errors: tuple[ChecklistError, ...]
    notices: tuple[Notice, ...]
    changes: tuple[Change, ...] = ()

    @property
    def seen(self) -> str:
        """Names these notices and changes: who sends it back has been shown them."""
        said = "\n".join((*(one.text for one in self.notices), *(one.text for one in self.changes)))
        return hashlib.sha256(said.encode()).hexdigest()[:SEEN_DIGITS] if said else ""


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


def draft_from_text(editor: Editor, text: str) -> Draft:
    checklist, errors = read_text(text, NAME, editor.folder, editor.drawn)
    if checklist is None:
        return Draft(text, None, tuple(errors), ())
    found = _list_own_errors(editor, checklist, text)
    notices = list_warnings(editor.shipped, checklist) if editor.shipped else []
    changes = list_changes(editor.current, checklist, WORDS) if editor.current else []
    return Draft(text, None if found else checklist, tuple(found), tuple(notices), tuple(changes))


def draft_of_any(store: Store, folder: Path, text: str) -> tuple[Editor, Draft]:
    """A text whose id is not known beforehand: it may follow a checklist that is here, or be a new
    one.
    """
    with store.reading() as connection:
        drawn = yard_drawings.load_drawings(connection)
    checklist, _errors = read_text(text, NAME, folder, drawn)
    editor = (
        load_editor(store, folder, checklist.id)
        if checklist
        else Editor(None, None, 1, folder, {}, drawn=drawn)
    )
    return editor, draft_from_text(editor, text)


def _list_own_errors(editor: Editor, checklist: Checklist, text: str) -> list[ChecklistError]:
    """What the loader cannot know: the revisions that are here, and that a shipped caution must
    stay.
    """
    errors = find_unknown_checks(checklist, editor.by_stage, file=NAME, text=text)
    if checklist.revision < editor.next_revision:
        what = phrase("revision %(revision)s is not new here", revision=str(checklist.revision))
        todo = phrase(
            "write revision: %(next)s; a published revision is never changed",
            next=str(editor.next_revision),
        )
        errors.append(ChecklistError(NAME, _find_line(text, "revision:"), "revision", what, todo))
    elif editor.current and not _is_changed(editor, editor.current, checklist):
        what = phrase(
            "nothing has changed since revision %(revision)s",
            revision=str(editor.current.revision),
        )
        errors.append(
            ChecklistError(
                NAME, 1, "file", what, phrase("change something first, or leave the page")
            )
        )
    for key, words in find_reused_codes(editor.older, editor.current, checklist):
        code = key.rpartition(".")[2]
        what = phrase("the code %(code)s was used before for “%(words)s”", code=code, words=words)
        todo = phrase("give it another code; figures would mix the two")
        line = _find_line(text, f"- id: {code}")
        errors.append(ChecklistError(NAME, line, key, what, todo))
    for key, words in find_lost_cautions(editor.shipped, checklist) if editor.shipped else ():
        line = _find_line(text, f"- id: {key.split('.')[1]}")
        todo = phrase("add it again, in your own words if you like: %(caution)s", caution=words)
        errors.append(ChecklistError(NAME, line, key, phrase("the caution is left out"), todo))
    return errors


def _find_line(text: str, start: str) -> int:
    return next(
        (
            number
            for number, line in enumerate(text.splitlines(), start=1)
            if line.strip().startswith(start)
        ),
        1,
    )


def _is_changed(editor: Editor, current: Checklist, checklist: Checklist) -> bool:
    """In words, or in what a drawing's file shows."""
    is_same = _without_number(checklist) == _without_number(current)
    return not is_same or bool(find_redrawn(editor.folder, editor.shown))


def _without_number(checklist: Checklist) -> dict[str, Any]:
    return {**checklist.compiled(), "revision": None}


def publish(
    store: Store, editor: Editor, checklist: Checklist, now: datetime, *, is_draft: bool = False
) -> None:
    """Freezes it as the yard's own. is_draft: it was the draft that the server keeps, which ends
    with this. Raises Clash when another revision was published meanwhile.
    """
    shown = read_shown(editor.folder, checklist, editor.drawn)
    with store.writing() as connection:
        newest = checklists.find_newest_revision(connection, checklist.id)
        if newest + 1 != editor.next_revision:
            what = phrase(
                "revision %(revision)s of %(checklist)s was published a moment ago by someone else",
                revision=str(newest),
                checklist=checklist.id,
            )
            raise Clash(what, checklist.id, phrase("look at it, then make your change again"))
        checklists.publish_checklist(
            connection, checklist, origin="yard", now=format_timestamp(now)
        )
        drawings.keep_drawings(connection, checklist.hash, shown)
        yard_drawings.publish_drawing(connection, checklist.drawing)
        if is_draft:
            drafts.delete_draft(connection, checklist.id)
            clean_drawings(connection)


def clean_drawings(connection: Connection) -> None:
    """Deletes uploaded drawings that neither a revision nor any version of a draft names."""
    found = (DRAWING_LINE.search(text) for text in drafts.list_texts(connection))
    yard_drawings.delete_unused(connection, {match.group(1) for match in found if match})
