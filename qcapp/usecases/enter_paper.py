"""Enter a filled sheet: open it, read what was typed, save it when nothing is wrong with it."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from qcapp.documents.check_sheet_pdf import STOVES
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.disposition import needs_reason
from qcapp.inspection.paper import build_paper_body
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import people
from qcapp.store.registry.batches import Batch, get_batch
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.paper import PaperRecord, find_record_id, record_sheet
from qcapp.usecases.load_batch import list_open_batches
from qcapp.usecases.load_checklists import list_revisions
from qcapp.usecases.paper_sheet import Column, Sheet
from qcapp.usecases.pieces_asked import list_pieces_asked
from qcapp.usecases.read_paper_sheet import read_sheet


def list_choices(store: Store) -> list[tuple[Batch, list[tuple[str, Any]]]]:
    """[(open batch, [(hash, checklist) of each revision that it is checked by])]."""
    with store.reading() as connection:
        revisions = list_revisions(connection)
    return [
        (batch, [(key, one) for key, one in revisions if one.id in batch["checklist_ids"]])
        for batch in list_open_batches(store)
    ]


def open_sheet(store: Store, typed: Mapping[str, str], now: datetime) -> Sheet:
    """A sheet with the batch's usual crew where none was typed. Raises NotFound, BadInput."""
    with store.reading() as connection:
        sheet = _find_sheet(connection, typed, now)
    crew = {
        f"crew-{trade}-{index}": code
        for trade, code in sheet.batch["crew"].items()
        for index in range(sheet.stoves)
    }
    sheet.typed = {**crew, **typed}
    return sheet


def read_typed_sheet(
    store: Store, typed: Mapping[str, str], now: datetime
) -> tuple[Sheet, set[int]]:
    """(the sheet with its columns, and with what is wrong with it; the columns that the log has
    already from this very form). Raises NotFound, BadInput.
    """
    with store.reading() as connection:
        sheet = _find_sheet(connection, typed, now)
        read_sheet(connection, sheet, {one["code"]: one for one in people.list_people(connection)})
        is_to_save = sheet.get("do") == "save" and not sheet.problems
        return sheet, _find_kept(connection, sheet) if is_to_save else set()


def save_sheet(store: Store, sheet: Sheet, kept: set[int]) -> dict[str, str]:
    """What keeps it from being saved: {field of the review: what to do}; empty when it was saved.
    Raises QcappError when a record of it must not count.
    """
    problems = find_save_problems(sheet, kept)
    if not problems:
        record_sheet(
            store,
            [build_record(sheet, column) for column in sheet.columns],
            form_key=sheet.key,
            batch=sheet.batch["code"],
            checklist=sheet.checklist,
            now=sheet.now,
        )
    return problems


def list_people(store: Store) -> list[people.Person]:
    with store.reading() as connection:
        return people.list_people(connection)


def _find_sheet(connection: Connection, typed: Mapping[str, str], now: datetime) -> Sheet:
    batch = get_batch(connection, typed.get("batch", ""))
    wanted = typed.get("checklist", "")
    found = [one for key, one in list_revisions(connection) if wanted in (key, one.id)]
    if (
        not found
        or found[0].id not in batch["checklist_ids"]
        or batch["size"] not in found[0].sizes
    ):
        raise NotFound(
            phrase("this batch has no such checklist"), wanted, phrase("choose again from the list")
        )
    return Sheet(
        batch=batch,
        checklist=found[0],
        stoves=_read_stoves(typed),
        typed=typed,
        now=now,
        pieces=list_pieces_asked(connection, found[0]),
    )


def _read_stoves(typed: Mapping[str, str]) -> int:
    text = typed.get("stoves", "")
    stoves = int(text) if text.isascii() and text.isdigit() else 1
    if stoves not in STOVES:
        raise BadInput(
            phrase("there is no sheet for %(stoves)s stoves", stoves=stoves),
            "stoves",
            phrase("choose %(one)s or %(other)s", one=STOVES[0], other=STOVES[1]),
        )
    return stoves


def _find_kept(connection: Connection, sheet: Sheet) -> set[int]:
    """Columns that the log already has from this very form: Save was pressed twice."""
    ids = {
        find_record_id(
            sheet.key, sheet.batch["code"], sheet.checklist, build_record(sheet, column)
        ): column.index
        for column in sheet.columns
    }
    return {ids[row.id] for row in log.list_known(connection, ids)}


def find_save_problems(sheet: Sheet, kept: set[int]) -> dict[str, str]:
    """What keeps a sheet that reads well from being saved: {field name of the review: what to
    do}.
    """
    problems: dict[str, str] = {}
    for column in sheet.columns:
        kind, index = sheet.get(f"kind-{column.index}"), column.index
        if not kind or kind != column.disposition["kind"]:
            problems[f"kind-{index}"] = phrase("choose what becomes of the stove")
        elif needs_reason(kind) and "reason" not in column.disposition:
            problems[f"reason-{index}"] = phrase("write the reason")
        if column.doubt and index not in kept and not sheet.get(f"odd-{index}"):
            problems[f"odd-{index}"] = phrase(
                "confirm that the stove has the serial %(serial)s, or go back and correct it",
                serial=column.serial,
            )
        if column.inspections and index not in kept and not sheet.get(f"again-{index}"):
            problems[f"again-{index}"] = phrase(
                "confirm that this is another inspection of %(serial)s, or go back and correct "
                "the serial",
                serial=column.serial,
            )
    return problems


def build_record(sheet: Sheet, column: Column) -> PaperRecord:
    body = build_paper_body(
        sheet.checklist,
        column.filled,
        batch=sheet.batch,
        crew=column.crew,
        disposition=column.disposition,
        captured_at=format_timestamp(column.moment),
        entered_by=sheet.get("by"),
        entered_at=format_timestamp(sheet.now),
    )
    if column.made_from:
        body["made_from"] = column.made_from
    offset = column.moment.utcoffset() or timedelta()
    tz_min = round(offset.total_seconds() / 60)
    return PaperRecord(
        column.serial, sheet.get("inspector"), format_timestamp(column.moment), tz_min, body
    )
