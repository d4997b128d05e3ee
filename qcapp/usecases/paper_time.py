"""When the stoves of a sheet were looked at: its day, its times, its offset from UTC."""

import re
from datetime import UTC, date, datetime, time, timedelta, timezone

from qcapp.i18n.phrase import phrase
from qcapp.usecases.paper_sheet import Sheet

NOON = time(12)


def read_offset(sheet: Sheet) -> timezone:
    """UTC with a problem where it is not written like +03:00."""
    found = re.fullmatch(r"([+-])(\d\d):([0-5]\d)", sheet.get("offset"))
    minutes = (int(found[2]) * 60 + int(found[3])) * (-1 if found[1] == "-" else 1) if found else 0
    if not found or abs(minutes) > 14 * 60:
        sheet.problems["offset"] = phrase("write it like +03:00 or -04:30")
        return UTC
    return timezone(timedelta(minutes=minutes))


def read_day(sheet: Sheet) -> date | None:
    """None with a problem where it is no day."""
    try:
        return date.fromisoformat(sheet.get("day"))
    except ValueError:
        sheet.problems["day"] = phrase("write the day of the sheet, like 2026-11-25")
        return None


def read_moment(sheet: Sheet, index: int, day: date | None, offset: timezone) -> datetime:
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
