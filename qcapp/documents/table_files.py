"""Tables as CSV and XLSX files; what a spreadsheet would take for a formula stays text."""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass

import xlsxwriter

Cell = str | int | float | None
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Table:
    name: str
    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]]


def write_csv(table: Table) -> bytes:
    """UTF-8 with a mark, so that spreadsheets read names right; formulas are disarmed."""
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows([table.columns, *(map(disarm, row) for row in table.rows)])
    return stream.getvalue().encode("utf-8-sig")


def disarm(cell: Cell) -> Cell:
    # A note that begins like a formula would be run by a spreadsheet.
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell


def write_xlsx(tables: Iterable[Table]) -> bytes:
    """One sheet a table; text is written as text, never as a formula or link."""
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(
        stream, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    bold = book.add_format({"bold": True})
    for table in tables:
        sheet = book.add_worksheet(table.name)
        sheet.write_row(0, 0, table.columns, bold)
        for place, row in enumerate(table.rows, 1):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(place, column, cell)
                elif cell is not None:
                    sheet.write_number(place, column, cell)
        sheet.freeze_panes(1, 0)
        sheet.autofit()
    book.close()
    return stream.getvalue()
