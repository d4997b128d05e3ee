"""Typing in a filled sheet: form, review with the verdicts, saved. No script; every answer shows
all that was typed.
"""

import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.errors import QcappError
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.inspection.terms import DISPOSITIONS
from qcapp.store.engine import Store
from qcapp.usecases.enter_paper import (
    list_choices,
    list_people,
    open_sheet,
    read_typed_sheet,
    save_sheet,
)
from qcapp.usecases.form import OpenForm
from qcapp.usecases.paper_sheet import Sheet
from qcapp.web.deps import MAX_SHEET_FIELDS, NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.papers.sheet_view import list_names, list_parts, list_verdicts
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
ADDRESS = "/yard/entry"
CARRIED = ("day", "inspector", "offset")
Word = Annotated[str, Query(max_length=200)]


@router.get(ADDRESS, dependencies=[allow("type_sheets")])
def show_entry(
    request: Request,
    store: StoreDep,
    now: NowDep,
    batch: Word = "",
    checklist: Word = "",
    stoves: int = 1,
) -> Response:
    if not batch or not checklist:
        return page(
            request,
            "papers/choice.html",
            title=phrase("Type in a sheet"),
            choices=list_choices(store),
            chosen=batch,
        )
    chosen = {"batch": batch, "checklist": checklist, "stoves": str(stoves)}
    sheet = open_sheet(store, {**_begin(request, now), **chosen}, now)
    saved = [_say_saved(one) for one in request.query_params.getlist("saved")]
    return _form_page(request, store, sheet, saved)


def _begin(request: Request, now: datetime) -> Mapping[str, str]:
    """A fresh form with a name of its own, and what stays the same from sheet to sheet."""
    offset = now.astimezone().strftime("%z")
    return {
        "day": now.astimezone().date().isoformat(),
        "offset": f"{offset[:3]}:{offset[3:5]}",
        **{name: text for name, text in request.query_params.items() if name in CARRIED and text},
        "key": f"{int(now.timestamp() * 1000)}-{secrets.token_hex(10)}",
    }


@router.post(
    ADDRESS,
    dependencies=[allow("type_sheets", "sheet_entered")],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def take_entry(
    request: Request,
    store: StoreDep,
    now: NowDep,
    form: Annotated[OpenForm, Form()],
    by: AccountDep,
) -> Response:
    request.state.about = None
    sheet, kept = read_typed_sheet(store, {**form.values, "by": by}, now)
    if sheet.problems or sheet.get("do") == "change":
        return _form_page(request, store, sheet)
    if sheet.get("do") != "save":
        return _review_page(request, sheet, {})
    try:
        problems = save_sheet(store, sheet, kept)
    except QcappError as error:
        return _review_page(request, sheet, {"all": str(error)}, status=error.status)
    if problems:
        return _review_page(request, sheet, problems)
    request.state.about = {"batch": sheet.batch["code"]}
    return RedirectResponse(f"{ADDRESS}?{_next_query(sheet)}", status_code=303)


def _next_query(sheet: Sheet) -> str:
    """The next empty form, with what stays the same from sheet to sheet."""
    same = [(name, sheet.get(name)) for name in ("batch", "checklist", "stoves", *CARRIED)]
    saved = [
        ("saved", f"{column.serial}: {column.disposition['kind']}") for column in sheet.columns
    ]
    return urlencode([*same, *saved])


def _say_saved(text: str) -> str:
    """B1-001: release, as the address brings it back, with the word that people know."""
    serial, _, kind = text.rpartition(": ")
    return (
        phrase("%(serial)s: %(kind)s", serial=serial, kind=DISPOSITIONS[kind])
        if kind in DISPOSITIONS
        else text
    )


def _form_page(request: Request, store: Store, sheet: Sheet, saved: Sequence[str] = ()) -> Response:
    listed = list_people(store)
    first = next(
        (name for name in list_names(sheet) if name in sheet.problems),
        "serial-0" if sheet.get("inspector") else "inspector",
    )
    title = (
        phrase("Type in a sheet: %(n)s to correct", n=len(sheet.problems))
        if sheet.problems
        else phrase("Type in a sheet")
    )
    return page(
        request,
        "papers/entry.html",
        title=title,
        sheet=sheet,
        parts=list_parts(sheet),
        inspectors=[one for one in listed if one["is_inspector"]],
        makers={trade: [one for one in listed if trade in one["trades"]] for trade in sheet.trades},
        saved=saved,
        first=first,
    )


def _review_page(
    request: Request, sheet: Sheet, problems: dict[str, str], status: int = 200
) -> Response:
    rows = [(column, list_verdicts(sheet, column)) for column in sheet.columns]
    answer = page(
        request,
        "papers/review.html",
        title=phrase_n("Review %(n)s stove", "Review %(n)s stoves", len(rows)),
        sheet=sheet,
        rows=rows,
        problems=problems,
    )
    answer.status_code = status
    return answer
