"""A sheet that is typed in: what its fields say together.

Everything typed is kept as text by field name, so that a page can always be shown again as it was
left.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone
from functools import cached_property
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.disposition import propose_disposition
from qcapp.inspection.event import stove_key
from qcapp.inspection.not_asked import list_not_asked
from qcapp.inspection.paper import Filled, fill_stove
from qcapp.inspection.serial import doubt_serial, has_checked_serials, read_serial, serial_key
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.engine import Connection
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.paper import read_form_key
from qcapp.sync.reference import list_samples

NOON = time(12)
MAX_TYPED = 1000


@dataclass(frozen=True)
class Column:
    """One stove of the sheet. moment: UTC; inspections: what the log has of the stove at this
    stage, as folded; place: which look this is, from 1; disposition: what is chosen, among
    filled.allowed; doubt: why the serial is probably a slip (doubt_serial); made_from: serials of
    the pieces built in, by stage.
    """

    index: int
    serial: str
    moment: datetime
    crew: dict[str, str]
    filled: Filled
    inspections: list[dict[str, Any]]
    place: int
    disposition: dict[str, str]
    doubt: str | None
    made_from: dict[str, str]


@dataclass
class Sheet:
    """The whole form. pieces: stages whose pieces are asked for by serial; problems: {field name:
    what is wrong}; columns: those in which something was typed.
    """

    batch: Mapping[str, Any]
    checklist: Checklist
    stoves: int
    typed: Mapping[str, str]
    now: datetime
    pieces: tuple[str, ...] = ()
    problems: dict[str, str] = field(default_factory=dict)
    columns: list[Column] = field(default_factory=list)

    def get(self, name: str) -> str:
        return self.typed.get(name, "").strip()[:MAX_TYPED]

    @cached_property
    def key(self) -> tuple[int, str]:
        """The form's own name, given when it was opened."""
        found = read_form_key(self.get("key"))
        if found is None:
            raise BadInput(
                phrase("this form is incomplete"),
                "key",
                phrase("open the page again and type the sheet in again"),
            )
        return found

    @property
    def trades(self) -> list[str]:
        """Those whose work is looked at in this batch: an unpainted one asks for no painter."""
        left_out = list_not_asked(self.checklist, self.batch)
        asked = {check.step for check in self.checklist.checks if check.id not in left_out}
        steps = (step for step in self.checklist.steps if step.id in asked)
        return list(dict.fromkeys(step.trade for step in steps))


def cell_name(check_id: str, index: int, place: int) -> str:
    return f"cell-{check_id}-{index}-{place}"


def read_sheet(
    connection: Connection, sheet: Sheet, people: Mapping[str, Mapping[str, Any]]
) -> None:
    """Fills in the sheet's columns and problems. people: by code."""
    if not people.get(sheet.get("inspector"), {}).get("is_inspector"):
        sheet.problems["inspector"] = phrase("choose who inspected")
    offset, day = _read_offset(sheet), _read_day(sheet)
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


def _read_offset(sheet: Sheet) -> timezone:
    found = re.fullmatch(r"([+-])(\d\d):([0-5]\d)", sheet.get("offset"))
    minutes = (int(found[2]) * 60 + int(found[3])) * (-1 if found[1] == "-" else 1) if found else 0
    if not found or abs(minutes) > 14 * 60:
        sheet.problems["offset"] = phrase("write it like +03:00 or -04:30")
        return UTC
    return timezone(timedelta(minutes=minutes))


def _read_day(sheet: Sheet) -> date | None:
    try:
        return date.fromisoformat(sheet.get("day"))
    except ValueError:
        sheet.problems["day"] = phrase("write the day of the sheet, like 2026-11-25")
        return None


def _read_moment(sheet: Sheet, index: int, day: date | None, offset: timezone) -> datetime:
    """When the stove was looked at; without a time it is noon, or on a morning when the form was
    opened.
    """
    name, now = f"time-{index}", sheet.now.astimezone(offset)
    if day is None:
        return sheet.now
    try:
        clock = _read_clock(sheet.get(name))
    except ValueError:
        sheet.problems[name] = phrase("write the time like 14:30, or leave it empty")
        return sheet.now
    moment = datetime.combine(day, clock or NOON, offset)
    if clock is None and day == now.date() and moment > now:
        # Not the present moment: a second press of Save must give the same record.
        opened = datetime.fromtimestamp(sheet.key[0] / 1000, offset)
        moment = min(max(opened, datetime.combine(day, time(0), offset)), now)
    if moment > now:
        sheet.problems["day" if day > now.date() else name] = phrase(
            "this is in the future: compare with the sheet"
        )
    return moment


def _read_clock(text: str) -> time | None:
    """14:30, 14.30 or 1430; None when empty. Raises ValueError."""
    if not text:
        return None
    found = re.fullmatch(r"([0-9]{1,2})[:.h]?([0-9]{2})", text)
    if not found:
        raise ValueError(text)
    return time(int(found[1]), int(found[2]))


def piece_name(stage: str, index: int) -> str:
    return f"piece-{stage}-{index}"


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
    serial, moment = _read_serial(sheet, index), _read_moment(sheet, index, day, offset)
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
    cells = {
        check: [
            sheet.typed.get(cell_name(check, index, place), "")[:MAX_TYPED]
            for place in range(count_cells(known[check]))
        ]
        for check in known
    }
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


def count_cells(check: Check) -> int:
    """How many texts a check takes on the form."""
    return max(check.reading_count, 1)


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
