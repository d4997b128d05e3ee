"""Putting a backup in the place of the database: what is in it, a question, then a short stop."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, StringConstraints

from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.queries.overview import count_finished_stoves
from qcapp.store.upkeep.backup_contents import find_last_moment
from qcapp.usecases.laptop import read_chosen_backup
from qcapp.web.deps import StoreDep
from qcapp.web.laptop.here import LaptopDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/laptop/restore", include_in_schema=False)
# By then the database is in place or was left alone; an earlier request waits.
BACK_AFTER_S = 3
Text = Annotated[str, StringConstraints(max_length=1000)]


class BackupForm(BaseModel):
    """chosen: a backup that was found; typed: where another one lies."""

    chosen: Text = ""
    typed: Text = ""


class SureForm(BaseModel):
    file: Text


@router.post("", dependencies=[allow("keep_laptop", "backup_looked_into")])
def ask(
    request: Request, _laptop: LaptopDep, store: StoreDep, form: Annotated[BackupForm, Form()]
) -> Response:
    """Changes nothing: it is a POST because a path is no part of an address."""
    request.state.about = None
    file, contents = read_chosen_backup(form.typed or form.chosen)
    with store.reading() as connection:
        head, stoves = log.get_head(connection), count_finished_stoves(connection)
        last_at = find_last_moment(connection)
        server_id = log.get_server_id(connection)
    return page(
        request,
        "laptop/restore.html",
        title=phrase("Restore this backup?"),
        file=file,
        contents=contents,
        kept={"records": head.seq, "stoves": stoves, "last_at": last_at},
        is_other_yard=contents.found.server_id != server_id,
    )


@router.post("/sure", dependencies=[allow("keep_laptop", "restore_asked")])
def restore(
    request: Request, laptop: LaptopDep, by: AccountDep, form: Annotated[SureForm, Form()]
) -> Response:
    file, _contents = read_chosen_backup(form.file)
    request.state.about = {"file": file.name}
    laptop.restore(file, by)
    answer = page(
        request,
        "laptop/waiting.html",
        title=phrase("The backup is being put in place"),
        update=None,
    )
    answer.headers["Refresh"] = f"{BACK_AFTER_S}; url=/laptop"
    return answer
