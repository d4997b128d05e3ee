"""What the figure commands share: reading a CSV file with named columns, printing an answer as
JSON.
"""

import csv
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from qcapp.errors import BadInput

Level = Annotated[float, typer.Option(help="confidence, between 0 and 1")]
AsJson = Annotated[bool, typer.Option("--json", help="these commands always print JSON")]
Columns = Mapping[str, Callable[[str], object]]

WHOLE = re.compile(r"-?[0-9]{1,15}")
NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,15})?([eE][-+]?[0-9]{1,2})?")


def read_whole(text: str) -> int:
    if not WHOLE.fullmatch(text):
        raise ValueError("not a whole number")
    return int(text)


def read_number(text: str) -> float:
    if not NUMBER.fullmatch(text):
        raise ValueError("not a number with a decimal point")
    return float(text)


def read_word(text: str) -> str:
    if not text:
        raise ValueError("not a word")
    return text


def read_table(file: Path, *choices: Columns) -> list[dict[str, Any]]:
    """The rows with the named columns; other columns are left alone.

    choices: sets of columns ({name: reader of a cell}); the first one that the file has wholly is
    read. Raises BadInput with file, line and column.
    """
    try:
        with file.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream)
            columns = _choose(reader.fieldnames or [], choices, file)
            rows = [_read_row(row, columns, f"{file}:{reader.line_num}") for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadInput(
            f"the file cannot be read: {error}", str(file), "give a CSV file in UTF-8"
        ) from error
    if not rows:
        raise BadInput(
            "the file has no rows", str(file), "add at least one row below the column names"
        )
    return rows


def _choose(found: Sequence[str], choices: tuple[Columns, ...], file: Path) -> Columns:
    for columns in choices:
        if set(columns) <= set(found):
            return columns
    nearest = max(choices, key=lambda columns: len(set(columns) & set(found)))
    missing = [name for name in nearest if name not in found]
    wanted = " or ".join(", ".join(columns) for columns in choices)
    raise BadInput(
        f"no column {', '.join(missing)}", f"{file}:1", f"the first line must name {wanted}"
    )


def _read_row(row: Mapping[str, Any], columns: Columns, place: str) -> dict[str, Any]:
    found = {}
    for name, read in columns.items():
        try:
            found[name] = read((row[name] or "").strip())
        except ValueError as error:
            raise BadInput(
                f"{row[name]!r} is {error}", f"{place} {name}", "correct this cell"
            ) from error
    return found


def print_answer(answer: Mapping[str, Any]) -> None:
    # Open ends are infinite; JSON has no word for that but null.
    print(json.dumps(_plain(answer), ensure_ascii=False))


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return _plain(asdict(value))
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
