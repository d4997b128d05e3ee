"""What is sent with a decision about what is held back, and the page that asks for it."""

from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases.form import OpenForm
from qcapp.web.layout.page import page

DECIDE = "decide_quarantine"
MAX_REASON = 500


class QuarantineForm(OpenForm):
    """seen: the decision that the page showed. Further fields: artisan.A77, with the code
    chosen.
    """

    action: str = ""
    reason: str = ""
    seen: str = ""


def read_reason(form: QuarantineForm) -> str:
    """Raises BadInput without one, or with one that is too long."""
    if not 0 < len(form.reason) <= MAX_REASON:
        raise BadInput(
            phrase(
                "%(field)s is missing or longer than %(most)s characters",
                field="reason",
                most=MAX_REASON,
            ),
            "reason",
            phrase("write it and send it again"),
        )
    return form.reason


def decision_page(
    request: Request,
    template: str,
    form: QuarantineForm | None,
    error: BadInput | None,
    **values: Any,
) -> HTMLResponse:
    """form, error: what was sent, and why it was refused."""
    answer = page(request, template, form=form or QuarantineForm(), error=error, **values)
    answer.status_code = error.status if error else 200
    return answer
