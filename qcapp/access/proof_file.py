"""Reading a signed summary from a file, so strictly that no two readers see two things in it."""

import json
from typing import Any

from qcapp.errors import BadInput

MAX_BYTES = 20_000_000


def parse_proof(raw: bytes, where: str) -> Any:
    """The JSON value in the file's bytes; its form is for check_proof to judge.

    Raises BadInput for what is no JSON, and for a key given twice: readers differ in which one
    they keep.
    """
    if raw[:5] == b"%PDF-":
        raise BadInput(
            "this is the printed summary; nothing in it can be checked",
            where,
            "give the signed .json file that belongs to it",
        )
    if len(raw) > MAX_BYTES:
        raise BadInput(
            f"this file has more than {MAX_BYTES} bytes",
            where,
            "give the signed .json file of one summary",
        )
    try:
        return json.loads(
            raw.decode("utf-8"), object_pairs_hook=_refuse_doubles, parse_constant=_refuse_constant
        )
    except (ValueError, RecursionError) as error:
        raise BadInput(
            f"this is not a signed summary: {error}",
            where,
            "give the .json file as the yard sent it",
        ) from error


def _refuse_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _value in pairs]
        repeated = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the key {repeated!r} appears twice in one object")
    return found


def _refuse_constant(word: str) -> None:
    raise ValueError(f"{word} is not a JSON number")
