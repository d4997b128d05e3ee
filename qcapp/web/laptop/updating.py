"""Another version of the program from a file, and how far that is."""

import shutil
import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases.laptop import Laptop
from qcapp.web.laptop.here import LaptopDep
from qcapp.web.layout.page import page
from qcapp.web.rules import FEW_TEXTS, allow

router = APIRouter(prefix="/laptop/update", include_in_schema=False)
# Of a packed version; it is three times that when it is unpacked.
MAX_UPDATE_BYTES = 500_000_000
LOOK_EVERY_S = 2


class UpdateForm(BaseModel):
    file: UploadFile | None = None


@router.get("", dependencies=[allow("keep_laptop")])
def show_update(request: Request, laptop: LaptopDep) -> Response:
    return _waiting_page(request, laptop)


@router.post(
    "",
    dependencies=[allow("keep_laptop", "update_asked", max_bytes=MAX_UPDATE_BYTES)],
    form_limits=FEW_TEXTS,
)
def begin(request: Request, laptop: LaptopDep, form: Annotated[UpdateForm, Form()]) -> Response:
    if form.file is None or not form.file.filename:
        raise BadInput(
            phrase("no file was chosen"), "file", phrase("choose the file of the new version")
        )
    name = Path(form.file.filename).name
    request.state.about = {"file": name}
    # It outlives this request; whoever updates takes it away.
    folder = Path(tempfile.mkdtemp(prefix="qcapp-update-"))
    with (folder / "update.zip").open("wb") as target:
        shutil.copyfileobj(form.file.file, target)
    laptop.begin_update(folder / "update.zip", name)
    return _waiting_page(request, laptop)


def _waiting_page(request: Request, laptop: Laptop) -> Response:
    if laptop.update is None or laptop.update.problem:
        return RedirectResponse("/laptop", status_code=303)
    title = phrase("The program is being updated")
    answer = page(request, "laptop/waiting.html", title=title, update=laptop.update)
    answer.headers["Refresh"] = f"{LOOK_EVERY_S}; url=/laptop/update"
    return answer
