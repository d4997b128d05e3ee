"""Pages of the yard: the guided start stands above them while it is shown."""

from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from qcapp.store.engine import Store
from qcapp.usecases.form import TypedForm
from qcapp.usecases.setup_guide import build_guide, load_guide
from qcapp.usecases.yard_state import YardState
from qcapp.web.layout.page import page


def yard_page(
    request: Request,
    store: Store,
    template: str,
    form: TypedForm | None = None,
    *,
    state: YardState | None = None,
    **values: Any,
) -> HTMLResponse:
    """A page with the guide's bar above it while the guide is shown; 400 where the form was
    refused. state: where the page has it already.
    """
    form = form or TypedForm()
    guide = build_guide(state) if state else load_guide(store)
    answer = page(request, template, guide=guide, form=form, state=state, **values)
    answer.status_code = 400 if form.wrong else 200
    return answer
