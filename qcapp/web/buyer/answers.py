"""What a buyer sends back through the link: an answer, or the count of a re-check."""

from typing import Annotated, Literal

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from qcapp.access.summary_links import open_summary_link
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases.answer_summary import record_answer
from qcapp.web.buyer.opened import find_proof
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/s/{token}", include_in_schema=False)


class Answer(BaseModel):
    """What a buyer says to a summary."""

    number: int = Field(ge=1)
    answer: Literal["accept", "reject", "question"]
    by: str = Field(min_length=1, max_length=40, pattern=r"\S")
    note: str = Field("", max_length=2000)


class Recheck(BaseModel):
    """What a re-check of the stoves found: failed of n."""

    number: int = Field(ge=1)
    n: int = Field(ge=1)
    failed: int = Field(ge=0)
    by: str = Field(min_length=1, max_length=40, pattern=r"\S")
    note: str = Field("", max_length=1000)


@router.post("/answer", dependencies=[allow("open_shared")])
def add_answer(
    token: str, store: StoreDep, now: NowDep, form: Annotated[Answer, Form()]
) -> RedirectResponse:
    link = open_summary_link(store, token, what="answer", now=now)
    if form.answer != "accept" and not form.note.strip():
        raise BadInput(
            phrase("a question or a refusal needs a note"),
            "note",
            phrase("write your question or your reason; go back and add it"),
        )
    body = {
        "answer": form.answer,
        "note": form.note.strip(),
        "number": form.number,
        "sha256": find_proof(store, link, form.number)["signed"]["summary_sha256"],
        "link": link.label,
    }
    record_answer(store, link, kind="buyer_answer", by=form.by.strip(), body=body, now=now)
    return RedirectResponse(f"/s/{token}#answer", status_code=303)


@router.post("/recheck", dependencies=[allow("open_shared")])
def add_recheck(
    token: str, store: StoreDep, now: NowDep, form: Annotated[Recheck, Form()]
) -> RedirectResponse:
    link = open_summary_link(store, token, what="re-check", now=now)
    offered = find_proof(store, link, form.number)["summary"]["counts"]["offered"]
    if not form.failed <= form.n <= offered:
        raise BadInput(
            phrase(
                "%(failed)s of %(n)s stoves is impossible when %(offered)s are offered",
                failed=form.failed,
                n=form.n,
                offered=offered,
            ),
            "n, failed",
            phrase("correct the numbers; go back and send them again"),
        )
    body = {
        "n": form.n,
        "failed": form.failed,
        "note": form.note.strip(),
        "number": form.number,
        "link": link.label,
    }
    record_answer(store, link, kind="recheck", by=form.by.strip(), body=body, now=now)
    return RedirectResponse(f"/s/{token}#answer", status_code=303)
