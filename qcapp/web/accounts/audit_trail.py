"""The yard lead's page of who did what."""

import json
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from qcapp.access.audit_messages import ACTORS, AUDIT_MESSAGES
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.web.deps import StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
# The same page on a programme's own host.
programme_router = APIRouter(include_in_schema=False)
PAGE_ROWS = 100
BEYOND = 2**53


@router.get("/yard/trail", dependencies=[allow("see_trail")])
@programme_router.get("/trail", dependencies=[allow("see_programme")])
def show_trail(
    request: Request, store: StoreDep, before: Annotated[int, Query(ge=1, le=BEYOND)] = BEYOND
) -> HTMLResponse:
    with store.reading() as connection:
        found = log.list_trail(connection, before=before, limit=PAGE_ROWS + 1)
        head = log.get_head(connection)
    rows = [{"seq": row.seq, "at": row.received_at, **_read(row.raw)} for row in found[:PAGE_ROWS]]
    older = rows[-1]["seq"] if len(found) > PAGE_ROWS else None
    return page(
        request,
        "accounts/audit_trail.html",
        title=phrase("Who did what"),
        rows=rows,
        older=older,
        head=head,
    )


def _read(raw: str) -> dict[str, Any]:
    event = json.loads(raw)
    by, body = event["inspector"], event["body"]
    return {
        "by": ACTORS.get(by, by),
        "action": AUDIT_MESSAGES.get(body["action"], body["action"]),
        "about": body["about"],
    }
