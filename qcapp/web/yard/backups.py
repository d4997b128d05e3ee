"""The yard lead's page of the daily backups."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.usecases.keep_backups import BackupKeeper
from qcapp.web.deps import StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/backups", include_in_schema=False)


@router.get("", dependencies=[allow("keep_backups")])
def show_backups(request: Request, store: StoreDep) -> Response:
    keeper: BackupKeeper | None = request.app.state.backups
    return yard_page(
        request,
        store,
        "yard/backups.html",
        title=phrase("Backups"),
        backups=keeper.describe() if keeper else None,
    )


@router.post("", dependencies=[allow("keep_backups", "backup_made")])
def make_backup(request: Request) -> Response:
    keeper: BackupKeeper | None = request.app.state.backups
    if keeper is None:
        raise NotFound(
            phrase("this database is not a file that the program copies"),
            "/yard/backups",
            phrase("the guide's page on PostgreSQL says how its backups are made"),
        )
    keeper.back_up_now()
    return RedirectResponse("/yard/backups", status_code=303)
