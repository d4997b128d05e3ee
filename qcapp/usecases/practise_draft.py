"""A draft walked on a phone before it is published.

The lead's page makes a link with a token; a phone that has joined opens it. It keeps nothing of the
draft: no record, and no checklist that a record could be made by.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from qcapp.access.secret import hash_token, make_token
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import drafts
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.edit_checklist import OpenDraft, load_open_draft
from qcapp.usecases.open_store import read_what_is_there

LINK_HOURS = 12


@dataclass(frozen=True)
class PractisedDraft:
    """As the phone gets it; drawings: SVG by name, of this checklist alone."""

    hash: str
    compiled: dict[str, Any]
    drawings: dict[str, str]


def make_practice_link(store: Store, draft: OpenDraft, now: datetime) -> str:
    """The token of a link that is good for some hours. Raises BadInput while there are errors."""
    _get_checklist(draft)
    token = make_token()
    with store.writing() as connection:
        drafts.set_practice_link(
            connection,
            token_hash=hash_token(token),
            checklist_id=draft.editor.in_use.id,
            expires_at=format_timestamp(now + timedelta(hours=LINK_HOURS)),
        )
    return token


def load_practised(store: Store, folder: Path, token: str, now: datetime) -> PractisedDraft:
    """The draft as it is now. Raises NotFound for a link that is not known or too old."""
    with store.reading() as connection:
        found = drafts.find_practised(connection, hash_token(token), format_timestamp(now))
    if found is None:
        raise NotFound(
            phrase("this link to practise a draft is not known or too old"),
            "token",
            phrase("open a new one on the page of the draft"),
        )
    draft = load_open_draft(store, folder, found)
    checklist = _get_checklist(draft)
    compiled = checklist.compiled()
    kept = {**draft.editor.shown, **draft.editor.drawn}
    shown = read_what_is_there(folder, checklist, kept)
    return PractisedDraft(checklist.hash, compiled, shown)


def _get_checklist(draft: OpenDraft) -> Checklist:
    if not draft.is_changed:
        return draft.editor.in_use
    if draft.checked.checklist is None:
        raise BadInput(
            phrase("the draft has places to correct"),
            draft.editor.in_use.id,
            phrase("correct them on its page, then practise"),
        )
    return draft.checked.checklist
