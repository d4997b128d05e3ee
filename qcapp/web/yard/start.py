"""The start page: what waits for the yard lead, and the way to every other page."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.access.roles import may
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.usecases.keep_backups import BackupKeeper
from qcapp.usecases.setup_guide import load_guide
from qcapp.usecases.work_queue import load_work
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
# A longer list is no list of what to do now.
MAX_SHOWN = 30


@router.get("/", dependencies=[allow("open_app")])
def show_start(request: Request, store: StoreDep, now: NowDep, caller: CallerDep) -> Response:
    if not may(caller.role, "decide_batches"):
        return page(request, "yard/start.html", title=phrase("Start"))
    keeper: BackupKeeper | None = request.app.state.backups
    backups = keeper.describe() if keeper and request.app.state.are_backups_daily else None
    work = load_work(store, now=now, backups=backups)
    guide = load_guide(store)
    n = len(work) + guide.is_shown
    title = (
        phrase_n("%(n)s thing waits for you", "%(n)s things wait for you", n)
        if n
        else phrase("Nothing waits for you")
    )
    return page(
        request,
        "yard/work_queue.html",
        title=title,
        work=work[:MAX_SHOWN],
        more=len(work) - MAX_SHOWN,
        guide=guide,
    )
