"""What the figure commands share: reading a CSV file with named columns, printing an answer as
JSON.

Nothing that was written is taken for another number: a cell, row or file that is not wholly
understood is refused with its place.
"""

import csv
import io
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from qcapp.cli.numbers import quote
from qcapp.errors import BadInput

Columns = Mapping[str, Callable[[str], object]]
# A row by column. Raises ValueError with what is wrong between its cells.
RowCheck = Callable[[Mapping[str, Any]], None]

# More than a yard writes in years, and little enough for the memory of an old laptop.
MAX_BYTES = 10_000_000
MAX_ROWS = 20_000
OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


def read_table(
    file: Path, *choices: Columns, check: RowCheck | None = None, max_rows: int = MAX_ROWS
) -> list[dict[str, Any]]:
    """The rows with the named columns; other named columns are left alone.

    choices: sets of columns ({name: reader of a cell}); the first one that the file has wholly is
    read. Raises BadInput with file, line and column.
    """
    reader = csv.reader(io.StringIO(_read_text(file), newline=""), strict=True)
    rows: list[dict[str, Any]] = []
    try:
        names = [name.strip() for name in next(reader, [])]
        columns = _choose(names, choices, file)
        for cells in reader:
            if cells:
                place = f"{file}:{reader.line_num}"
                rows.append(_read_row(_name_cells(names, cells, place), columns, check, place))
            if len(rows) > max_rows:
                raise BadInput(
                    f"the file has more than {max_rows:,} rows", str(file), "give fewer rows"
                )
    except csv.Error as error:
        where = f"{file}:{reader.line_num}"
        raise BadInput(f"the line is no CSV: {error}", where, "correct its quotes") from error
    if not rows:
        raise BadInput(
            "the file has no rows", str(file), "add at least one row below the column names"
        )
    return rows


def _read_text(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
        if len(content) > MAX_BYTES:
            raise BadInput(
                f"the file is larger than {MAX_BYTES:,} bytes", str(file), "give fewer rows"
            )
        return content.decode("utf-8-sig")
    except (OSError, ValueError) as error:
        raise BadInput(
            f"the file cannot be read: {error}", str(file), "give a CSV file in UTF-8"
        ) from error


def _choose(found: Sequence[str], choices: tuple[Columns, ...], file: Path) -> Columns:
    twice = [name for name in found if name and found.count(name) > 1]
    if twice:
        raise BadInput(
            f"column {quote(twice[0])} stands twice", f"{file}:1", "keep one column of each name"
        )
    for columns in choices:
        if set(columns) <= set(found):
            return columns
    nearest = max(choices, key=lambda columns: len(set(columns) & set(found)))
    missing = ", ".join(name for name in nearest if name not in found)
    for mark, words in OTHER_SEPARATORS.items():
        if any(mark in name for name in found):
            raise BadInput(
                f"the cells are parted by {words}: no column {missing}",
                f"{file}:1",
                "save it with commas between the cells and points inside numbers",
            )
    wanted = " or ".join(", ".join(columns) for columns in choices)
    raise BadInput(f"no column {missing}", f"{file}:1", f"the first line must name {wanted}")


def _name_cells(names: Sequence[str], cells: Sequence[str], place: str) -> dict[str, str]:
    """Raises BadInput unless each cell has its name and each name its cell."""
    unnamed = [cell for name, cell in zip(names, cells, strict=False) if not name and cell.strip()]
    if len(cells) != len(names) or unnamed:
        count = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
        named = sum(map(bool, names))
        raise BadInput(
            f"the row has {count} for {named} named columns",
            place,
            "part cells by commas, write 1.5 and not 1,5, and leave no cell out",
        )
    return dict(zip(names, cells, strict=True))


def _read_row(
    row: Mapping[str, str], columns: Columns, check: RowCheck | None, place: str
) -> dict[str, Any]:
    found = {}
    for name, read in columns.items():
        try:
            found[name] = read(row[name].strip())
        except ValueError as error:
            what = f"{quote(row[name])} is {error}" if row[name].strip() else "the cell is empty"
            raise BadInput(what, f"{place} {name}", "correct this cell") from error
    try:
        if check:
            check(found)
    except ValueError as error:
        raise BadInput(str(error), place, "correct this row") from error
    return found


def check_rate(row: Mapping[str, Any]) -> None:
    """A RowCheck: raises ValueError where more failed than were inspected."""
    if row["faults"] > row["inspected"]:
        raise ValueError(f"{row['faults']} failed of {row['inspected']} inspected cannot be")


def print_answer(answer: Mapping[str, Any]) -> None:
    # Open ends are infinite; JSON has no word for that but null.
    print(json.dumps(_plain(answer), ensure_ascii=False))


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
