"""Typing in a filled sheet: form, review with the verdicts, saved. No script; every answer shows all that was typed."""

import secrets
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse

from qcapp.checklist.model import Checklist
from qcapp.documents.check_sheet_pdf import STOVES
from qcapp.documents.sheet_words import describe_limits, describe_statistic, needs_letter
from qcapp.errors import BadInput, NotFound, QcappError
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.inspection.judge import counts_as_fail
from qcapp.inspection.letters import letter_of
from qcapp.store.registry import batches, checklists, people
from qcapp.sync.paper import record_sheet
from qcapp.usecases.print_paper import get_batch, list_not_asked
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.labels import DISPOSITIONS
from qcapp.web.layout.page import page
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.papers.entry_form import (
    Sheet,
    build_record,
    cell_name,
    count_cells,
    find_kept,
    find_save_problems,
    read_sheet,
)
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
ADDRESS = "/yard/entry"
# Sixty checks of twelve readings on five stoves, and what stands around them.
MAX_FIELDS = 4000
CARRIED = ("day", "inspector", "offset")
Word = Annotated[str, Query(max_length=200)]


async def read_typed(request: Request) -> dict[str, str]:
    """Every field of the form as text; a file in it is no text and left out."""
    form = await request.form(max_files=0, max_fields=MAX_FIELDS)
    return {name: value for name, value in form.items() if isinstance(value, str)}


TypedDep = Annotated[dict[str, str], Depends(read_typed)]


@router.get(ADDRESS, dependencies=[allow("type_sheets")])
def show_entry(
    request: Request,
    store: StoreDep,
    now: NowDep,
    batch: Word = "",
    checklist: Word = "",
    stoves: int = 1,
):
    if not batch or not checklist:
        return _show_choice(request, store, batch)
    offset = now.astimezone().strftime("%z")
    fresh = {
        "day": now.astimezone().date().isoformat(),
        "offset": f"{offset[:3]}:{offset[3:5]}",
        "batch": batch,
        "checklist": checklist,
        "stoves": str(stoves),
        **{name: text for name, text in request.query_params.items() if name in CARRIED and text},
        "key": f"{int(now.timestamp() * 1000)}-{secrets.token_hex(10)}",
    }
    with store.reading() as connection:
        sheet = _open_sheet(connection, fresh, now)
        fresh |= {
            f"crew-{trade}-{index}": code
            for trade, code in sheet.batch["crew"].items()
            for index in range(sheet.stoves)
        }
        return _show_form(
            request,
            connection,
            sheet,
            saved=[_say_saved(one) for one in request.query_params.getlist("saved")],
        )


@router.post(ADDRESS, dependencies=[allow("type_sheets", "sheet_entered")])
def take_entry(request: Request, store: StoreDep, now: NowDep, typed: TypedDep, caller: CallerDep):
    typed["by"] = caller.code
    request.state.about = None
    with store.reading() as connection:
        sheet = _open_sheet(connection, typed, now)
        read_sheet(connection, sheet, _find_people(connection))
        if sheet.problems or sheet.get("do") == "change":
            return _show_form(request, connection, sheet)
        problems = (
            find_save_problems(sheet, find_kept(connection, sheet))
            if sheet.get("do") == "save"
            else None
        )
    if problems is None or problems:
        return _show_review(request, sheet, problems or {})
    try:
        record_sheet(
            store,
            [build_record(sheet, column) for column in sheet.columns],
            form_key=sheet.key,
            batch=sheet.batch["code"],
            checklist=sheet.checklist,
            now=now,
        )
    except QcappError as error:
        return _show_review(request, sheet, {"all": str(error)}, status=error.status)
    request.state.about = {"batch": sheet.batch["code"]}
    return RedirectResponse(f"{ADDRESS}?{_next_query(sheet)}", status_code=303)


def _next_query(sheet: Sheet) -> str:
    """The next empty form, with what stays the same from sheet to sheet."""
    same = [(name, sheet.get(name)) for name in ("batch", "checklist", "stoves", *CARRIED)]
    return urlencode(
        [
            *same,
            *(
                ("saved", f"{column.serial}: {column.disposition['kind']}")
                for column in sheet.columns
            ),
        ]
    )


def _say_saved(text: str) -> str:
    """B1-001: release, as the address brings it back, with the word that people know."""
    serial, _, kind = text.rpartition(": ")
    return (
        phrase("%(serial)s: %(kind)s", serial=serial, kind=DISPOSITIONS[kind])
        if kind in DISPOSITIONS
        else text
    )


def _show_choice(request: Request, store, chosen: str):
    with store.reading() as connection:
        open_batches = [
            batch for batch in batches.list_batches(connection) if batch["closed_at"] is None
        ]
        known = _list_revisions(connection)
    choices = [
        (batch, [(key, one) for key, one in known if one.id in batch["checklist_ids"]])
        for batch in open_batches
    ]
    return page(
        request,
        "papers/choice.html",
        title=phrase("Type in a sheet"),
        choices=choices,
        chosen=chosen,
    )


def _list_revisions(connection) -> list[tuple[str, Checklist]]:
    """Every revision, since a sheet may be older than the newest: by id, newest first."""
    found = checklists.load_checklists(connection, checklists.list_hashes(connection))
    return sorted(found.items(), key=lambda item: (item[1].id, -item[1].revision))


def _open_sheet(connection, typed: Mapping[str, str], now: datetime) -> Sheet:
    batch = get_batch(connection, typed.get("batch", ""))
    wanted = typed.get("checklist", "")
    found = [one for key, one in _list_revisions(connection) if wanted in (key, one.id)]
    if (
        not found
        or found[0].id not in batch["checklist_ids"]
        or batch["size"] not in found[0].sizes
    ):
        raise NotFound(
            phrase("this batch has no such checklist"), wanted, phrase("choose again from the list")
        )
    stoves = (
        int(typed["stoves"])
        if typed.get("stoves", "").isascii() and typed.get("stoves", "").isdigit()
        else 1
    )
    if stoves not in STOVES:
        raise BadInput(
            phrase("there is no sheet for %(stoves)s stoves", stoves=stoves),
            "stoves",
            phrase("choose %(one)s or %(other)s", one=STOVES[0], other=STOVES[1]),
        )
    return Sheet(batch=batch, checklist=found[0], stoves=stoves, typed=typed, now=now)


def _find_people(connection) -> dict[str, dict]:
    return {person["code"]: person for person in people.list_people(connection)}


def _show_form(request: Request, connection, sheet: Sheet, saved: list[str] = []):
    listed = _find_people(connection).values()
    first = next(
        (name for name in _list_names(sheet) if name in sheet.problems),
        "serial-0" if sheet.get("inspector") else "inspector",
    )
    title = (
        phrase("Type in a sheet: %(n)s to mend", n=len(sheet.problems))
        if sheet.problems
        else phrase("Type in a sheet")
    )
    return page(
        request,
        "papers/entry.html",
        title=title,
        sheet=sheet,
        parts=_list_parts(sheet),
        inspectors=[one for one in listed if one["is_inspector"]],
        makers={trade: [one for one in listed if trade in one["trades"]] for trade in sheet.trades},
        saved=saved,
        first=first,
    )


def _list_names(sheet: Sheet) -> list[str]:
    """Names of the fields that may have to be mended, in their order on the page."""
    around = [
        "day",
        "offset",
        "inspector",
        *(f"{name}-{index}" for name in ("serial", "time") for index in range(sheet.stoves)),
    ]
    return [
        *around,
        *(
            cell_name(check.id, index, 0)
            for check in sheet.checklist.checks
            for index in range(sheet.stoves)
        ),
    ]


def _list_parts(sheet: Sheet) -> list[dict]:
    """The checks this batch is asked, by part, with the numbers and letters of the printed sheet."""
    left_out = list_not_asked(sheet.checklist, sheet.batch)
    numbers = {check.id: number for number, check in enumerate(sheet.checklist.checks, 1)}
    rows: dict[str, list[dict]] = {part.id: [] for part in sheet.checklist.parts}
    for check in sheet.checklist.checks:
        if check.id not in left_out:
            rows[check.part].append(_describe_check(check, numbers[check.id], sheet.batch["size"]))
    return [
        {"title": as_localized(part.title), "rows": rows[part.id]}
        for part in sheet.checklist.parts
        if rows[part.id]
    ]


def _describe_check(check, number: int, size: str) -> dict:
    plain = check.model_dump(mode="json")
    has_letter = needs_letter(plain)
    choices = check.options if check.kind == "choice" else check.faults if has_letter else ()
    labels = (
        [as_localized(label) for label in check.labels]
        if check.kind == "readings"
        else [""] * count_cells(check)
    )
    return {
        "id": check.id,
        "number": number,
        "kind": check.kind,
        "ask": as_localized(check.ask),
        "severity": check.severity,
        "labels": labels if check.kind != "calculated" or has_letter else [],
        "limits": "; ".join(one["text"] for one in describe_limits(plain, [size])),
        "statistic": describe_statistic(plain),
        "letters": [
            (letter_of(place), as_localized(choice.title)) for place, choice in enumerate(choices)
        ],
    }


def _show_review(request: Request, sheet: Sheet, problems: dict[str, str], status: int = 200):
    rows = [(column, _list_verdicts(sheet, column)) for column in sheet.columns]
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


def _list_verdicts(sheet: Sheet, column) -> dict:
    """Checks of a stove by what they came to; passed and not asked ones only as counts."""
    left_out = list_not_asked(sheet.checklist, sheet.batch)
    found = [
        (check, column.filled.judgements[check.id])
        for check in sheet.checklist.checks
        if check.id not in left_out
    ]
    named = {
        check.id: [
            as_localized(fault.title)
            for fault in check.faults
            if fault.id == column.filled.answers.get(check.id, {}).get("fault")
        ]
        for check, _ in found
    }
    return {
        "failed": [
            (check, judged, "".join(named[check.id]))
            for check, judged in found
            if counts_as_fail(check, judged.verdict)
        ],
        "doubtful": [
            (check, judged, "")
            for check, judged in found
            if judged.verdict == "doubtful" and not counts_as_fail(check, "doubtful")
        ],
        "missing": [
            (check, judged, "") for check, judged in found if check.id in column.filled.missing
        ],
        "not_applicable": [
            (check, judged, column.filled.answers.get(check.id, {}).get("note", ""))
            for check, judged in found
            if judged.verdict == "not_applicable"
        ],
        "passed": sum(judged.verdict == "pass" for _, judged in found),
        "of": sum(
            judged.verdict != "missing" or check.id in column.filled.missing
            for check, judged in found
        ),
    }
