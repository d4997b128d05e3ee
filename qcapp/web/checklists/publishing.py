"""What the two ways to write a checklist share: publishing, and what a check while one types
says.
"""

from collections.abc import Sequence
from datetime import datetime

from fastapi import Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from qcapp.store.engine import Store
from qcapp.usecases.checklist_draft import Draft
from qcapp.usecases.checklist_editor import Editor
from qcapp.usecases.publish_checklist import publish
from qcapp.web.layout.template_filters import as_translated
from qcapp.web.middleware.security_headers import LIVE_POLICY


def publish_draft(
    request: Request,
    store: Store,
    editor: Editor,
    draft: Draft,
    seen: str,
    now: datetime,
    *,
    is_kept: bool = False,
) -> Response | None:
    """None when the page must come back: errors, or changes and notices that were not shown yet.
    seen: names those that were; is_kept: it is the draft that the server keeps. Raises Clash.
    """
    if draft.checklist is None or draft.seen != seen:
        request.state.about = None
        return None
    publish(store, editor, draft.checklist, now, is_draft=is_kept)
    left = [notice.key for notice in draft.notices if notice.is_safety]
    request.state.about = {
        "checklist": draft.checklist.key,
        "hash": draft.checklist.hash[:16],
        "weaker_in": ", ".join(left),
    }
    return RedirectResponse("/yard/checklists", status_code=303)


def wants_json(request: Request) -> bool:
    """Whether the page's own script asks, which checks while one types."""
    return "application/json" in request.headers.get("accept", "")


def answer_check(draft: Draft, wrong: Sequence[tuple[str, str]]) -> Response:
    """wrong: (key of the field, what is wrong and what to do). In the reader's language, because
    the page's script shows it as it comes.
    """
    notices = [
        {"text": as_translated(notice.text), "is_safety": notice.is_safety}
        for notice in draft.notices
    ]
    changes = [
        {"text": f"{as_translated(one.of)}: {as_translated(one.text)}"} for one in draft.changes
    ]
    return JSONResponse(
        {
            "wrong": [(key, as_translated(text)) for key, text in wrong],
            "notices": notices,
            "changes": changes,
        }
    )


def allow_own_script(answer: Response) -> Response:
    """A page with a script of its own, from this server and nowhere else."""
    answer.headers["Content-Security-Policy"] = LIVE_POLICY
    return answer
