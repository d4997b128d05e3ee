"""A checklist in the making: what was typed, as the loader and the comparison see it."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qcapp.checklist.change_words import Change
from qcapp.checklist.changes import list_changes
from qcapp.checklist.compare import Notice, find_lost_cautions, list_warnings
from qcapp.checklist.earlier_checks import find_unknown_checks
from qcapp.checklist.load import read_text
from qcapp.checklist.model import Checklist
from qcapp.checklist.reused_codes import find_reused_codes
from qcapp.checklist.source import ChecklistError
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import RULES, SEVERITIES, TRADES, VERDICTS
from qcapp.store.engine import Store
from qcapp.store.registry import yard_drawings
from qcapp.usecases.checklist_editor import Editor, load_editor
from qcapp.usecases.open_store import find_redrawn

NAME = "checklist"
SEEN_DIGITS = 16
WORDS = {**SEVERITIES, **RULES, **VERDICTS, **TRADES}


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
    return [
        *find_unknown_checks(checklist, editor.by_stage, file=NAME, text=text),
        *_check_revision(editor, checklist, text),
        *_refuse_reused_codes(editor, checklist, text),
        *_refuse_lost_cautions(editor, checklist, text),
    ]


def _check_revision(editor: Editor, checklist: Checklist, text: str) -> Iterator[ChecklistError]:
    if checklist.revision < editor.next_revision:
        what = phrase("revision %(revision)s is not new here", revision=str(checklist.revision))
        todo = phrase(
            "write revision: %(next)s; a published revision is never changed",
            next=str(editor.next_revision),
        )
        yield ChecklistError(NAME, _find_line(text, "revision:"), "revision", what, todo)
    elif editor.current and not _is_changed(editor, editor.current, checklist):
        what = phrase(
            "nothing has changed since revision %(revision)s",
            revision=str(editor.current.revision),
        )
        todo = phrase("change something first, or leave the page")
        yield ChecklistError(NAME, 1, "file", what, todo)


def _refuse_reused_codes(
    editor: Editor, checklist: Checklist, text: str
) -> Iterator[ChecklistError]:
    for key, words in find_reused_codes(editor.older, editor.current, checklist):
        code = key.rpartition(".")[2]
        what = phrase("the code %(code)s was used before for “%(words)s”", code=code, words=words)
        todo = phrase("give it another code; figures would mix the two")
        line = _find_line(text, f"- id: {code}")
        yield ChecklistError(NAME, line, key, what, todo)


def _refuse_lost_cautions(
    editor: Editor, checklist: Checklist, text: str
) -> Iterator[ChecklistError]:
    for key, words in find_lost_cautions(editor.shipped, checklist) if editor.shipped else ():
        line = _find_line(text, f"- id: {key.split('.')[1]}")
        todo = phrase("add it again, in your own words if you like: %(caution)s", caution=words)
        yield ChecklistError(NAME, line, key, phrase("the caution is left out"), todo)


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
