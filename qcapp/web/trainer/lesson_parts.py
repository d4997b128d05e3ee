"""Picture cards and the voice note of a step's lesson: put up and taken down on the step's page."""

from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel

from qcapp.inspection.lesson_parts import MAX_VOICE_BYTES
from qcapp.usecases.keep_lesson_parts import add_picture, delete_part, put_voice
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import FEW_TEXTS, allow

router = APIRouter(include_in_schema=False)
STEP = "/trainer/steps/{checklist}/{step}"
CHANGED = "lesson_part_changed"
# A camera's picture; what is kept of it is small.
MAX_UPLOAD_BYTES = 12 * 1024 * 1024
AROUND = 10_000


class PictureForm(BaseModel):
    file: UploadFile | None = None
    caption: str = ""


class VoiceForm(BaseModel):
    file: UploadFile | None = None


def _read(file: UploadFile | None, most: int) -> bytes:
    return file.file.read(most + 1) if file else b""


@router.post(
    STEP + "/pictures",
    dependencies=[allow("hold_lessons", CHANGED, max_bytes=MAX_UPLOAD_BYTES + AROUND)],
    form_limits=FEW_TEXTS,
)
def add(
    checklist: str,
    step: str,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[PictureForm, Form()],
) -> Response:
    content = _read(form.file, MAX_UPLOAD_BYTES)
    add_picture(store, step, content, form.caption.strip(), by=by, now=now)
    return _back(checklist, step)


@router.post(
    STEP + "/voice",
    dependencies=[allow("hold_lessons", CHANGED, max_bytes=MAX_VOICE_BYTES + AROUND)],
)
def put(
    checklist: str,
    step: str,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[VoiceForm, Form()],
) -> Response:
    put_voice(store, step, _read(form.file, MAX_VOICE_BYTES), by=by, now=now)
    return _back(checklist, step)


@router.post(STEP + "/parts/{part_id}/delete", dependencies=[allow("hold_lessons", CHANGED)])
def delete(
    checklist: str, step: str, part_id: str, store: StoreDep, now: NowDep, by: AccountDep
) -> Response:
    delete_part(store, step, part_id, by=by, now=now)
    return _back(checklist, step)


def _back(checklist: str, step: str) -> Response:
    return RedirectResponse(f"/trainer/steps/{checklist}/{step}#lesson", status_code=303)
