"""The buyer's pages behind a link: the summary, its files, what the server finds, the buyer's
answer.
"""

import json
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, Field

from qcapp.access.links import OpenedLink, open_link
from qcapp.documents.summary_pdf import build_summary_pdf
from qcapp.documents.table_files import write_csv, write_xlsx
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.queries.batch_facts import list_batch_events
from qcapp.store.registry import photos
from qcapp.usecases.answer_summary import record_answer
from qcapp.usecases.issue_summary import BUYERS_KINDS, read_public_key
from qcapp.usecases.verify_summary import check_issued
from qcapp.web.buyer.summary_view import BuyersView, load_texts, show_proof
from qcapp.web.buyer.tables import list_tables
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/s/{token}", include_in_schema=False)
Number = Annotated[int | None, Query(ge=1)]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("", dependencies=[allow("open_shared")])
def show_summary(
    request: Request,
    token: str,
    store: StoreDep,
    drawings: DrawingsDep,
    now: NowDep,
    number: Number = None,
) -> HTMLResponse:
    link = open_link(store, token, what="page", now=now)
    proof = _find_proof(store, link, number)
    return show_proof(
        request, proof, drawings, store, _load_view(store, link, proof, f"/s/{token}")
    )


def _find_proof(store: Store, link: OpenedLink, number: int | None = None) -> dict[str, Any]:
    with store.reading() as connection:
        proof = summaries.find_proof(connection, link.batch, number)
    if proof is None:
        raise NotFound(
            phrase("there is no such summary of this batch"),
            str(number or ""),
            phrase("open the link without a number"),
        )
    return proof


def _load_view(store: Store, link: OpenedLink, proof: dict[str, Any], address: str) -> BuyersView:
    document = proof["summary"]
    wanted = [sha256 for row in document["concessions"] for sha256 in row["photos"]]
    with store.reading() as connection:
        issued = summaries.list_summaries(connection, link.batch)
        answers = [
            event
            for event in list_batch_events(connection, link.batch)
            if event.kind in BUYERS_KINDS
        ]
        return BuyersView(
            address=address,
            versions=issued,
            is_newest=document["number"] == issued[0].number,
            is_stale=log.has_stove_records_after(connection, link.batch, issued[0].seq),
            photos=frozenset(photos.list_whole(connection, wanted)),
            answers=answers[::-1],
            expires_at=link.expires_at,
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
    link = open_link(store, token, what="verify", now=now)
    proof = _find_proof(store, link, number)
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


@router.get("/summary.json", dependencies=[allow("open_shared")])
def get_json(token: str, store: StoreDep, now: NowDep, number: Number = None) -> Response:
    link = open_link(store, token, what="JSON", now=now)
    proof = _find_proof(store, link, number)
    return _file(
        json.dumps(proof, ensure_ascii=False, indent=1).encode(),
        "application/json",
        _name(proof, "json"),
    )


@router.get("/summary.pdf", dependencies=[allow("open_shared")])
def get_pdf(
    request: Request,
    token: str,
    store: StoreDep,
    drawings: DrawingsDep,
    now: NowDep,
    number: Number = None,
) -> Response:
    link = open_link(store, token, what="PDF", now=now)
    proof = _find_proof(store, link, number)
    wanted = [sha256 for row in proof["summary"]["concessions"] for sha256 in row["photos"]]
    with store.reading() as connection:
        pictures = {
            sha256: content
            for sha256 in wanted
            if (content := photos.find_photo(connection, sha256)) is not None
        }
    address = find_reach(request).link(f"s/{token}/verify?number={proof['summary']['number']}")
    pdf = build_summary_pdf(
        proof,
        drawing_svg=drawings.get_of_summary(proof["summary"]),
        verify_address=address,
        photos=pictures,
        language=get_active_locale().language,
        checklist_texts=load_texts(store, proof["summary"]),
    )
    return _file(pdf, "application/pdf", _name(proof, "pdf"))


@router.get("/{name}.csv", dependencies=[allow("open_shared")])
def get_csv(token: str, name: str, store: StoreDep, now: NowDep) -> Response:
    link = open_link(store, token, what=f"{name[:20]}.csv", now=now)
    tables = {table.name: table for table in list_tables(store, link.batch)}
    if name not in tables:
        raise NotFound(
            phrase("there is no such table"),
            name,
            phrase("there are %(tables)s", tables=tuple(tables)),
        )
    return _file(write_csv(tables[name]), "text/csv; charset=utf-8", f"{name}.csv")


@router.get("/tables.xlsx", dependencies=[allow("open_shared")])
def get_xlsx(token: str, store: StoreDep, now: NowDep) -> Response:
    link = open_link(store, token, what="XLSX", now=now)
    return _file(write_xlsx(list_tables(store, link.batch)), XLSX, "batch.xlsx")


@router.get("/photos/{sha256}", dependencies=[allow("open_shared")])
def get_photo(token: str, sha256: str, store: StoreDep, now: NowDep) -> Response:
    """Only photos of stoves that were released by concession, as an issued summary names them."""
    link = open_link(store, token, what=None, now=now)
    with store.reading() as connection:
        issued = [
            summaries.find_proof(connection, link.batch, row.number)
            for row in summaries.list_summaries(connection, link.batch)
        ]
        named = {
            photo
            for proof in filter(None, issued)
            for row in proof["summary"]["concessions"]
            for photo in row["photos"]
        }
        content = photos.find_photo(connection, sha256) if sha256 in named else None
    if content is None:
        raise NotFound(
            phrase("there is no such photo in this summary"),
            "",
            phrase("it may still be on the inspector's phone"),
        )
    return Response(content, media_type="image/jpeg")


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
    link = open_link(store, token, what="answer", now=now)
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
        "sha256": _find_proof(store, link, form.number)["signed"]["summary_sha256"],
        "link": link.label,
    }
    record_answer(store, link, kind="buyer_answer", by=form.by.strip(), body=body, now=now)
    return RedirectResponse(f"/s/{token}#answer", status_code=303)


@router.post("/recheck", dependencies=[allow("open_shared")])
def add_recheck(
    token: str, store: StoreDep, now: NowDep, form: Annotated[Recheck, Form()]
) -> RedirectResponse:
    link = open_link(store, token, what="re-check", now=now)
    offered = _find_proof(store, link, form.number)["summary"]["counts"]["offered"]
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


def _name(proof: dict[str, Any], suffix: str) -> str:
    return f"summary-{proof['summary']['number']}.{suffix}"


def _file(content: bytes, kind: str, name: str) -> Response:
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
