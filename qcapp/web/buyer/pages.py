"""The buyer's pages behind a link: the summary, and what the server finds when it checks it."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from qcapp.access.summary_links import open_summary_link
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.usecases.answer_summary import list_words_for_buyer
from qcapp.usecases.issue_summary import read_public_key
from qcapp.usecases.verify_summary import check_issued
from qcapp.web.buyer.opened import Number, find_proof
from qcapp.web.buyer.summary_view import BuyersView, show_proof
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(prefix="/s/{token}", include_in_schema=False)


@router.get("", dependencies=[allow("open_shared")])
def show_summary(
    request: Request,
    token: str,
    *,
    store: StoreDep,
    drawings: DrawingsDep,
    now: NowDep,
    number: Number = None,
    say: str = "",
) -> HTMLResponse:
    """say: which answer the reader is about to give; it is only chosen beforehand in the form."""
    link = open_summary_link(store, token, what="page", now=now)
    proof = find_proof(store, link, number)
    view = _load_view(store, link, proof, f"/s/{token}", say)
    return show_proof(request, proof, drawings, store, view)


def _load_view(
    store: Store, link: SummaryLink, proof: dict[str, Any], address: str, say: str
) -> BuyersView:
    document = proof["summary"]
    with store.reading() as connection:
        issued = summaries.list_summaries(connection, link.batch)
        words = list_words_for_buyer(connection, link.batch)
        return BuyersView(
            address=address,
            versions=issued,
            is_newest=document["number"] == issued[0].number,
            is_stale=log.has_stove_records_after(connection, link.batch, issued[0].seq),
            answers=[word for word in words if not word.body.get("stoves")],
            expires_at=link.expires_at,
            say=say,
        )


@router.get("/verify", dependencies=[allow("open_shared")])
def verify(
    request: Request,
    token: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    number: Number = None,
) -> HTMLResponse:
    link = open_summary_link(store, token, what="verify", now=now)
    proof = find_proof(store, link, number)
    public_key = read_public_key(store, settings.key_file)
    findings = check_issued(store, link.batch, proof, public_key)
    return page(
        request,
        "buyer/verify.html",
        document=proof["summary"],
        title=phrase("Is summary %(number)s as it was issued?", number=proof["summary"]["number"]),
        proof=proof,
        findings=findings,
        public_key=public_key,
        address=f"/s/{token}",
    )
