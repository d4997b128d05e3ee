"""Reads what was typed on a sheet: each stove's serial, pieces, answers and disposition."""

import re
from collections.abc import Mapping
from datetime import date, timezone
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.disposition import propose_disposition
from qcapp.inspection.event import stove_key
from qcapp.inspection.paper import Filled, fill_stove
from qcapp.inspection.serial import doubt_serial, has_checked_serials, read_serial, serial_key
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.engine import Connection
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.reference import list_samples
from qcapp.usecases.paper_sheet import MAX_TYPED, Column, Sheet, cell_name, count_cells, piece_name
from qcapp.usecases.paper_time import read_day, read_moment, read_offset


def read_sheet(
    connection: Connection, sheet: Sheet, people: Mapping[str, Mapping[str, Any]]
) -> None:
    """Fills in the sheet's columns and problems. people: by code."""
    if not people.get(sheet.get("inspector"), {}).get("is_inspector"):
        sheet.problems["inspector"] = phrase("choose who inspected")
    offset, day = read_offset(sheet), read_day(sheet)
    for index in range(sheet.stoves):
        if _is_used(sheet, index) or sheet.stoves == 1:
            sheet.columns.append(_read_column(connection, sheet, index, day, offset))
    if not sheet.columns:
        sheet.problems["serial-0"] = phrase("nothing was typed: start with the serial")
    _refuse_double(sheet)


def _is_used(sheet: Sheet, index: int) -> bool:
    return bool(sheet.get(f"serial-{index}")) or any(
        text.strip()
        for name, text in sheet.typed.items()
        if re.fullmatch(rf"cell-.+-{index}-\d+|piece-.+-{index}", name)
    )


def _read_serial(sheet: Sheet, index: int) -> str:
    try:
        return read_serial(
            sheet.get(f"serial-{index}"),
            prefix=sheet.batch["serial_prefix"],
            is_checked=has_checked_serials(sheet.batch),
        )
    except BadInput as error:
        sheet.problems[f"serial-{index}"] = phrase(
            "%(what)s: %(todo)s", what=error.what, todo=error.todo
        )
        return ""


def _read_pieces(sheet: Sheet, index: int) -> dict[str, str]:
    """Read as a stove's own serial, but a piece may come from another batch."""
    found = {}
    for stage in sheet.pieces:
        name = piece_name(stage, index)
        if not sheet.get(name):
            continue
        try:
            is_checked = has_checked_serials(sheet.batch)
            found[stage] = read_serial(sheet.get(name), prefix="", is_checked=is_checked)
        except BadInput as error:
            sheet.problems[name] = phrase("%(what)s: %(todo)s", what=error.what, todo=error.todo)
    return found


def _read_column(
    connection: Connection, sheet: Sheet, index: int, day: date | None, offset: timezone
) -> Column:
    serial, moment = _read_serial(sheet, index), read_moment(sheet, index, day, offset)
    key = stove_key(sheet.checklist.stage, serial)
    inspections = (
        fold_stove(log.list_stove_events(connection, [key])[key])["inspections"] if serial else []
    )
    before = [one for one in inspections if one["captured_at"] <= format_timestamp(moment)]
    known = sheet.checklist.check_by_id
    earlier = {
        check: answer
        for one in before
        for check, answer in one["body"]["answers"].items()
        if check in known
    }
    cells = {check.id: _read_cells(sheet, check, index) for check in known.values()}
    context = {"size": sheet.batch["size"], "batch": sheet.batch["attributes"]}
    filled = fill_stove(
        sheet.checklist, cells, context, earlier, is_short=_is_short(connection, sheet, serial)
    )
    for check, problem in filled.problems.items():
        sheet.problems[cell_name(check, index, 0)] = problem
    crew = {trade: sheet.get(f"crew-{trade}-{index}") for trade in sheet.trades}
    return Column(
        index,
        serial,
        moment,
        crew,
        filled,
        inspections,
        len(before) + 1,
        _choose(sheet, index, filled),
        doubt_serial(serial, sheet.batch["serial_prefix"], sheet.batch["planned"]),
        _read_pieces(sheet, index),
    )


def _read_cells(sheet: Sheet, check: Check, index: int) -> list[str]:
    return [
        sheet.typed.get(cell_name(check.id, index, place), "")[:MAX_TYPED]
        for place in range(count_cells(check))
    ]


def _is_short(connection: Connection, sheet: Sheet, serial: str) -> bool:
    """Whether a sample was agreed for this stage and the stove is not in it; twin of isShort in
    static/phone/js/inspection/draft.js.
    """
    sample = list_samples(connection).get(sheet.batch["code"])
    return (
        sample is not None
        and sample["stage"] == sheet.checklist.stage
        and serial_key(serial) not in map(serial_key, sample["serials"])
    )


def _choose(sheet: Sheet, index: int, filled: Filled) -> dict[str, str]:
    """kind: empty where a person has still to choose."""
    kind, reason = sheet.get(f"kind-{index}"), sheet.get(f"reason-{index}")
    skipped = any(found.reason == "marked-not-applicable" for found in filled.judgements.values())
    proposed = propose_disposition(filled.allowed, skipped) or ""
    chosen = kind if kind in filled.allowed else proposed
    return {"kind": chosen, "reason": reason} if reason else {"kind": chosen}


def _refuse_double(sheet: Sheet) -> None:
    seen: set[str] = set()
    for column in sheet.columns:
        key = serial_key(column.serial)
        if key in seen:
            sheet.problems[f"serial-{column.index}"] = phrase("this serial is on the form twice")
        seen.add(key or f"column {column.index}")
