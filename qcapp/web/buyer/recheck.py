"""The buyer's re-check, stove by stove and check by check, on a phone beside the stoves."""

from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import Field
from starlette.datastructures import URL

from qcapp.access.summary_links import open_summary_link
from qcapp.i18n.phrase import phrase
from qcapp.reports.summary_recheck import has_failed
from qcapp.reports.summary_wording import word_summary
from qcapp.store.engine import Store
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.usecases.recheck_stove import StoveForm, list_offered, load_rechecked, recheck_stove
from qcapp.web.buyer.opened import Number, find_proof
from qcapp.web.buyer.summary_view import load_texts
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import FEW_TEXTS, allow

router = APIRouter(prefix="/s/{token}/recheck", include_in_schema=False)
# Three photos of a phone's camera.
MAX_FORM_BYTES = 30 * 1024 * 1024


class PhotosForm(StoveForm):
    """photos: a browser sends an empty text where no file was chosen."""

    photos: list[UploadFile | str] = Field(default_factory=list)

    def list_files(self) -> list[BinaryIO]:
        return [one.file for one in self.photos if not isinstance(one, str) and one.size]


@router.get("", dependencies=[allow("open_shared")])
def show_recheck(
    request: Request,
    token: str,
    *,
    store: StoreDep,
    now: NowDep,
    number: Number = None,
    by: str = "",
    done: str = "",
) -> HTMLResponse:
    """by: who enters; done: the serial that has just been recorded."""
    link = open_summary_link(store, token, what="re-check", now=now)
    document = find_proof(store, link, number)["summary"]
    form = StoveForm(number=document["number"], by=by[:40])
    return _recheck_page(request, store, link, document, form, done)


@router.post(
    "/stove",
    dependencies=[allow("open_shared", max_bytes=MAX_FORM_BYTES)],
    form_limits=FEW_TEXTS,
)
def add_stove(
    request: Request,
    token: str,
    store: StoreDep,
    now: NowDep,
    form: Annotated[PhotosForm, Form()],
) -> Response:
    link = open_summary_link(store, token, what="re-check", now=now)
    document = find_proof(store, link, form.number)["summary"]
    recheck_stove(store, link, document, form, form.list_files(), now)
    if form.wrong:
        answer = _recheck_page(request, store, link, document, form, "")
        answer.status_code = 400
        return answer
    told = {"number": form.number, "by": form.by, "done": form.serial}
    address = URL(f"/s/{token}/recheck").include_query_params(**told)
    return RedirectResponse(str(address), status_code=303)


def _recheck_page(
    request: Request,
    store: Store,
    link: SummaryLink,
    document: dict[str, Any],
    form: StoveForm,
    done: str,
) -> HTMLResponse:
    shown = word_summary(document, load_texts(store, document))
    found = load_rechecked(store, link.batch)
    stoves = {stove["serial"]: has_failed(stove) for stove in found.stoves} if found else {}
    return page(
        request,
        "buyer/recheck.html",
        title=phrase("Re-check batch %(code)s", code=document["batch"]["code"]),
        document=shown,
        form=form,
        offered=list_offered(document),
        rechecked=stoves,
        done=done if done in stoves else "",
        address=request.url.path.partition("/recheck")[0],
    )
