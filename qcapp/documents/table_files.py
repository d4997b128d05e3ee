"""Tables as CSV and XLSX files; what a spreadsheet would take for a formula stays text."""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

Cell = str | int | float | datetime | date | None
DAY = "yyyy-mm-dd"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True)
class Table:
    """units: of columns, written into their heads in a spreadsheet; a moment is in UTC."""

    name: str
    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]]
    units: Mapping[str, str] = field(default_factory=dict)


def write_csv(table: Table) -> bytes:
    """UTF-8 with a mark, so that spreadsheets read names right; formulas are disarmed."""
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows([table.columns, *(map(disarm, row) for row in table.rows)])
    return stream.getvalue().encode("utf-8-sig")


def disarm(cell: Cell) -> Cell:
    # A note that begins like a formula would be run by a spreadsheet.
    if isinstance(cell, datetime):
        return f"{cell.isoformat(timespec='milliseconds')}Z"
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell


def write_xlsx(tables: Iterable[Table]) -> bytes:
    """One sheet a table; text is written as text, never as a formula or link, a day as a day."""
    # Only whoever takes such a file away waits for its library.
    import xlsxwriter  # noqa: PLC0415

    stream = io.BytesIO()
    book = xlsxwriter.Workbook(
        stream, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    formats = {
        "head": book.add_format({"bold": True}),
        "moment": book.add_format({"num_format": DAY + " hh:mm"}),
        "day": book.add_format({"num_format": DAY}),
    }
    for table in tables:
        sheet = book.add_worksheet(table.name)
        heads = [
            f"{name}, {table.units[name]}" if name in table.units else name
            for name in table.columns
        ]
        sheet.write_row(0, 0, heads, formats["head"])
        for place, row in enumerate(table.rows, 1):
            for column, cell in enumerate(row):
                _write_cell(sheet, (place, column), cell, formats)
        sheet.freeze_panes(1, 0)
        sheet.autofit()
    book.close()
    return stream.getvalue()


def _write_cell(
    sheet: "Worksheet", at: tuple[int, int], cell: Cell, formats: "Mapping[str, Format]"
) -> None:
    if isinstance(cell, str):
        sheet.write_string(*at, cell)
    elif isinstance(cell, datetime):
        sheet.write_datetime(*at, cell, formats["moment"])
    elif isinstance(cell, date):
        sheet.write_datetime(*at, cell, formats["day"])
    elif cell is not None:
        sheet.write_number(*at, cell)
