"""A checklist in the making: what was typed, as the loader and the comparison see it, and its publication."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from qcapp.checklist.compare import Notice, find_lost_cautions, list_warnings
from qcapp.checklist.edit import apply_fields, merge, read_fields
from qcapp.checklist.load import ChecklistError, read_text
from qcapp.checklist.model import Checklist
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import Clash, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import checklists
from qcapp.store.timestamps import format_timestamp

NAME = "checklist"
SEEN_SIGNALS = 16


@dataclass(frozen=True)
class Editor:
    """What a page works on. shipped: None for a checklist only this yard has; current: None for one that is new; next_revision: of the id."""

    shipped: Checklist | None
    current: Checklist | None
    next_revision: int
    folder: Path

    @property
    def source(self) -> dict:
        """All that can be asked: the current checks and those that it leaves out."""
        return merge(
            as_source(self.shipped.compiled()) if self.shipped else None,
            as_source(self.current.compiled()),
        )


@dataclass(frozen=True)
class Draft:
    """checklist: None while there are errors."""

    text: str
    checklist: Checklist | None
    errors: tuple[ChecklistError, ...]
    notices: tuple[Notice, ...]

    @property
    def seen(self) -> str:
        """Names these notices: who sends it back has been shown them."""
        said = "\n".join(notice.text for notice in self.notices)
        return hashlib.sha256(said.encode()).hexdigest()[:SEEN_SIGNALS] if said else ""


def load_editor(store: Store, folder: Path, checklist_id: str) -> Editor:
    with store.reading() as connection:
        current = {
            compiled["id"]: compiled for _key, compiled in checklists.list_current(connection)
        }.get(checklist_id)
        newest = max(
            (
                row.revision
                for row in checklists.list_server_events(connection)
                if row.checklist_id == checklist_id
            ),
            default=0,
        )
        shipped = checklists.find_shipped(connection, checklist_id)
    return Editor(
        shipped, Checklist.from_compiled(current) if current else None, newest + 1, folder
    )


def get_editor(store: Store, folder: Path, checklist_id: str) -> Editor:
    """Raises NotFound for an id that is not here."""
    bench = load_editor(store, folder, checklist_id)
    if bench.current is None:
        raise NotFound(
            phrase("there is no such checklist"), checklist_id, phrase("see the list of checklists")
        )
    return bench


def fill_fields(bench: Editor, checklist: Checklist) -> dict[str, str]:
    """The form's fields as the checklist has them, with a tick for each check that it asks."""
    fields = read_fields(bench.source) | read_fields(as_source(checklist.compiled()))
    return fields | {f"use.{check.id}": "on" for check in checklist.checks}


def draft_from_fields(bench: Editor, typed: Mapping[str, str]) -> Draft:
    uses = {name.removeprefix("use.") for name in typed if name.startswith("use.")}
    text = write_yaml(apply_fields(bench.source, typed, uses, bench.next_revision))
    return draft_from_text(bench, text)


def draft_from_text(bench: Editor, text: str) -> Draft:
    checklist, errors = read_text(text, NAME, bench.folder)
    if checklist is None:
        return Draft(text, None, tuple(errors), ())
    found = _list_own_errors(bench, checklist, text)
    notices = list_warnings(bench.shipped, checklist) if bench.shipped else []
    return Draft(text, None if found else checklist, tuple(found), tuple(notices))


def draft_of_any(store: Store, folder: Path, text: str) -> tuple[Editor, Draft]:
    """A text whose id is not known beforehand: it may follow a checklist that is here, or be a new one."""
    checklist, _errors = read_text(text, NAME, folder)
    bench = load_editor(store, folder, checklist.id) if checklist else Editor(None, None, 1, folder)
    return bench, draft_from_text(bench, text)


def _list_own_errors(bench: Editor, checklist: Checklist, text: str) -> list[ChecklistError]:
    """What the loader cannot know: the revisions that are here, and that a shipped caution must stay."""
    errors = []
    if checklist.revision < bench.next_revision:
        what = phrase("revision %(revision)s is not new here", revision=str(checklist.revision))
        todo = phrase(
            "write revision: %(next)s; a published revision is never changed",
            next=str(bench.next_revision),
        )
        errors.append(ChecklistError(NAME, _find_line(text, "revision:"), "revision", what, todo))
    elif bench.current and _without_number(checklist) == _without_number(bench.current):
        what = phrase(
            "nothing is changed against revision %(revision)s", revision=str(bench.current.revision)
        )
        errors.append(
            ChecklistError(NAME, 1, "file", what, phrase("change something, or leave it"))
        )
    for key, words in find_lost_cautions(bench.shipped, checklist) if bench.shipped else ():
        line = _find_line(text, f"- id: {key.split('.')[1]}")
        todo = phrase("put it back, in your own words if you like: %(caution)s", caution=words)
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


def _without_number(checklist: Checklist) -> dict:
    return {**checklist.compiled(), "revision": None}


def publish(store: Store, bench: Editor, checklist: Checklist, now: datetime) -> None:
    """Freezes it as the yard's own. Raises Clash when another revision was published meanwhile."""
    with store.writing() as connection:
        newest = max(
            (
                row.revision
                for row in checklists.list_server_events(connection)
                if row.checklist_id == checklist.id
            ),
            default=0,
        )
        if newest + 1 != bench.next_revision:
            what = phrase(
                "revision %(revision)s of %(checklist)s was published a moment ago by someone else",
                revision=str(newest),
                checklist=checklist.id,
            )
            raise Clash(what, checklist.id, phrase("look at it, then make your change again"))
        checklists.publish_checklist(
            connection, checklist, origin="yard", now=format_timestamp(now)
        )
