"""The files behind a buyer's link: the signed summary, its paper, tables, photos."""

import json
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.access.summary_links import open_summary_link
from qcapp.documents.summary_pdf import build_summary_pdf
from qcapp.documents.summary_sheet import build_summary_sheet
from qcapp.documents.table_files import XLSX, write_csv, write_xlsx
from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.summary_wording import list_photos, word_summary
from qcapp.store.queries import summaries
from qcapp.store.registry import photos
from qcapp.usecases.kept_drawings import BLANK
from qcapp.web.buyer.opened import Number, find_proof, name_batch
from qcapp.web.buyer.summary_view import load_texts
from qcapp.web.buyer.tables import add_units, build_measured, list_tables
from qcapp.web.deps import DrawingsDep, NowDep, StoreDep
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/s/{token}", include_in_schema=False)


@router.get("/summary.json", dependencies=[allow("open_shared")])
def get_json(token: str, store: StoreDep, now: NowDep, number: Number = None) -> Response:
    link = open_summary_link(store, token, what="JSON", now=now)
    proof = find_proof(store, link, number)
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
    link = open_summary_link(store, token, what="PDF", now=now)
    proof = find_proof(store, link, number)
    with store.reading() as connection:
        pictures = {
            sha256: content
            for sha256 in list_photos(proof["summary"])
            if (content := photos.find_photo(connection, sha256)) is not None
        }
    address = find_reach(request).link(f"s/{token}/verify?number={proof['summary']['number']}")
    pdf = build_summary_pdf(
        proof,
        drawing_svg=drawings.find_of_summary(proof["summary"]) or BLANK,
        verify_address=address,
        photos=pictures,
        language=get_active_locale().language,
        checklist_texts=load_texts(store, proof["summary"]),
    )
    return _file(pdf, "application/pdf", _name(proof, "pdf"))


@router.get("/{name}.csv", dependencies=[allow("open_shared")])
def get_csv(token: str, name: str, store: StoreDep, now: NowDep) -> Response:
    link = open_summary_link(store, token, what=f"{name[:20]}.csv", now=now)
    tables = {table.name: table for table in list_tables(store, link.batch)}
    if name not in tables:
        raise NotFound(
            phrase("there is no such table"),
            name,
            phrase("there are %(tables)s", tables=tuple(tables)),
        )
    proof, table = find_proof(store, link), tables[name]
    if name == "readings":
        table = add_units(table, proof["summary"]["checks"])
    return _file(write_csv(table), "text/csv; charset=utf-8", f"{name_batch(proof)}-{name}.csv")


@router.get("/tables.xlsx", dependencies=[allow("open_shared")])
def get_xlsx(token: str, store: StoreDep, now: NowDep, number: Number = None) -> Response:
    """The summary as issued, and the tables as recorded now."""
    link = open_summary_link(store, token, what="XLSX", now=now)
    proof = find_proof(store, link, number)
    document = word_summary(proof["summary"], load_texts(store, proof["summary"]))
    sha256 = proof["signed"]["summary_sha256"]
    stoves, readings = list_tables(store, link.batch)
    sheets = (
        build_summary_sheet(document, sha256, get_active_locale()),
        stoves,
        build_measured(readings, document["checks"]),
        add_units(readings, document["checks"]),
    )
    return _file(write_xlsx(sheets), XLSX, _name(proof, "xlsx"))


@router.get("/photos/{sha256}", dependencies=[allow("open_shared")])
def get_photo(token: str, sha256: str, store: StoreDep, now: NowDep) -> Response:
    """Only photos that an issued summary names."""
    link = open_summary_link(store, token, what=None, now=now)
    with store.reading() as connection:
        issued = [
            summaries.find_proof(connection, link.batch, row.number)
            for row in summaries.list_summaries(connection, link.batch)
        ]
        named = {photo for proof in filter(None, issued) for photo in list_photos(proof["summary"])}
        content = photos.find_photo(connection, sha256) if sha256 in named else None
    if content is None:
        raise NotFound(
            phrase("there is no such photo in this summary"),
            "",
            phrase("it may still be on the inspector's phone"),
        )
    return Response(content, media_type="image/jpeg")


def _name(proof: dict[str, Any], suffix: str) -> str:
    return f"{name_batch(proof)}-summary-{proof['summary']['number']}.{suffix}"


def _file(content: bytes, kind: str, name: str) -> Response:
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
