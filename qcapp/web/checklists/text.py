"""A checklist as YAML: typed in, or from a file."""

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel

from qcapp.checklist.source import LONGEST_FILE
from qcapp.errors import BadInput, Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.usecases.checklist_draft import Draft, draft_of_any
from qcapp.usecases.checklist_editor import write_copy
from qcapp.web.checklists.draft_page import MAX_FORM_BYTES
from qcapp.web.checklists.publishing import (
    allow_own_script,
    answer_check,
    publish_draft,
    wants_json,
)
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/checklist-text", include_in_schema=False)


class TextForm(BaseModel):
    """text: as typed; or file. seen: names the notices that the page showed."""

    text: str = ""
    seen: str = ""
    file: UploadFile | None = None


def read_text(
    form: Annotated[TextForm, Form()],
) -> TextForm:
    """The field `text` is what was typed, or what is in the chosen file."""
    if form.file is None:
        return form
    return TextForm(text=as_utf8(form.file.file.read(LONGEST_FILE + 1)), seen=form.seen)


def as_utf8(content: bytes) -> str:
    """Raises BadInput for a file that cannot be a checklist."""
    if not content or len(content) > LONGEST_FILE:
        todo = phrase(
            "choose a YAML file of at most %(longest_file)s bytes", longest_file=LONGEST_FILE
        )
        raise BadInput(phrase("no file was chosen, or it is empty or too large"), "file", todo)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            phrase("the file is not text in UTF-8"),
            "file",
            phrase("save it as plain text in UTF-8 and choose it again"),
        ) from error


TextDep = Annotated[TextForm, Depends(read_text)]


@router.get("", dependencies=[allow("write_checklists")])
def show_text(
    request: Request, store: StoreDep, settings: SettingsDep, like: str = "", title: str = ""
) -> Response:
    """like: id of the checklist that a new one with this title begins as. Raises NotFound for one
    that is not here.
    """
    if not (like and title.strip()):
        return _text_page(request, store, "", None)
    text = write_copy(store, settings.checklists_dir, like, title.strip())
    draft = draft_of_any(store, settings.checklists_dir, text)[1]
    return _text_page(request, store, text, draft)


@router.post(
    "/check",
    dependencies=[allow("write_checklists", "checklist_checked", max_bytes=MAX_FORM_BYTES)],
)
def check_text(request: Request, store: StoreDep, settings: SettingsDep, form: TextDep) -> Response:
    request.state.about = None
    text = form.text
    _editor, draft = draft_of_any(store, settings.checklists_dir, text)
    if wants_json(request):
        return answer_check(draft, list_by_line(draft))
    return _text_page(request, store, text, draft)


@router.post(
    "",
    dependencies=[allow("write_checklists", "checklist_published", max_bytes=MAX_FORM_BYTES)],
)
def publish_text(
    request: Request, store: StoreDep, settings: SettingsDep, now: NowDep, form: TextDep
) -> Response:
    text = form.text
    editor, draft = draft_of_any(store, settings.checklists_dir, text)
    try:
        done = publish_draft(request, store, editor, draft, form.seen, now)
    except Clash:
        # The number was taken a moment ago: the check says so, with its line.
        done, draft = None, draft_of_any(store, settings.checklists_dir, text)[1]
    return done or _text_page(request, store, text, draft)


def list_by_line(draft: Draft | None) -> list[tuple[str, str]]:
    """A text has no field but one, so each error names its line."""
    return [
        (
            "",
            phrase(
                "Line %(line)s, %(key)s: %(what)s; %(todo)s.",
                line=error.line,
                key=error.key,
                what=error.what,
                todo=error.todo,
            ),
        )
        for error in (draft.errors if draft else ())
    ]


def _text_page(request: Request, store: Store, text: str, draft: Draft | None) -> Response:
    answer = yard_page(
        request,
        store,
        "checklists/text.html",
        title=phrase("A checklist as YAML"),
        text=text,
        draft=draft,
        found=list_by_line(draft),
    )
    answer.status_code = 400 if draft and draft.errors else 200
    return allow_own_script(answer)
