"""Publishes a checklist as the yard's own; deletes uploaded drawings that nothing names."""

import re
from datetime import datetime

from qcapp.checklist.model import Checklist
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklists, drafts, drawings, yard_drawings
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.checklist_editor import Editor
from qcapp.usecases.open_store import read_shown

# As write_yaml writes it.
DRAWING_LINE = re.compile(r'^drawing: "?([^"\n]+)"?$', re.MULTILINE)


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
