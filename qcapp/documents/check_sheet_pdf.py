"""The paper check sheet of a checklist: A4, for one stove or for several side by side.

Paper is for the day without a phone; what is written on it is typed in later (inspection/paper.py),
so boxes and letters here are the keys there.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.documents.drawing_print import number_parts
from qcapp.documents.paper_words import prepare
from qcapp.documents.sheet_texts import list_texts
from qcapp.documents.sheet_words import (
    describe_limits,
    describe_statistic,
    describe_sum,
    describe_when,
    needs_letter,
)
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.localized_text import pick
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit
from qcapp.inspection.disposition import DISPOSITIONS
from qcapp.inspection.letters import letter_of
from qcapp.inspection.terms import TRADES, ask_for_piece

STOVES = (1, 5)
NO_PICTURES: Mapping[str, str] = {}


@dataclass(frozen=True)
class SheetRequest:
    """What is wanted on the sheet.

    size: one size of the checklist, or None for the limits of all. stoves: 1 or 5. batch: {"code",
    "title"} or None; crew: {trade: code} known beforehand; left_out: ids of checks that this batch
    is not asked; pieces: stages whose pieces are built in and asked for by serial.
    """

    yard: str
    size: str | None = None
    stoves: int = 1
    batch: Mapping[str, str] | None = None
    crew: Mapping[str, str] | None = None
    left_out: Collection[str] = ()
    pieces: Collection[str] = ()
    language: str = "en"


def build_check_sheet_pdf(
    compiled: Mapping[str, Any],
    *,
    checklist_hash: str,
    drawing_svg: str,
    request: SheetRequest,
    dated: datetime,
    pictures: Mapping[str, str] = NO_PICTURES,
) -> bytes:
    """compiled: the checklist's JSON shape; checklist_hash: its SHA-256 (hex), printed whole.

    pictures: SVG text by the name a check gives ("pictures/tape-across.svg"); a check whose picture
    is not among them has its words.
    """
    numbers = {check["id"]: place for place, check in enumerate(compiled["checks"], 1)}
    parts = [part for part in _list_parts(compiled, numbers, request) if part["checks"]]
    asked = {check["step"] for check in compiled["checks"] if check["id"] not in request.left_out}
    steps = (step for step in compiled["steps"] if step["id"] in asked)
    trades = list(dict.fromkeys(step["trade"] for step in steps))
    given = {
        "yard": request.yard,
        "batch": request.batch,
        "stoves": request.stoves,
        "size": request.size,
        "sizes": [name_size(size) for size in compiled["sizes"]],
        "title": pick(compiled["title"], request.language),
        "id": compiled["id"],
        "revision": compiled["revision"],
        "hash": checklist_hash,
        "parts": parts,
        "pieces": [ask_for_piece(stage) for stage in request.pieces],
        "dispositions": list(DISPOSITIONS),
        "texts": list_texts(pick(compiled["title"], request.language), request.size, parts),
        "crew": [
            {
                "trade": TRADES.get(trade, trade.replace("-", " ")),
                "code": (request.crew or {}).get(trade, ""),
            }
            for trade in trades
        ],
    }
    marks = {part["id"]: str(part["number"]) for part in parts}
    drawn = {"drawing": number_parts(drawing_svg, marks), "pictures": dict(pictures)}
    return typeset(
        "check_sheet.typ",
        prepare(given, load_locale(request.language)),
        dated=dated,
        pictures=drawn,
    )


def _list_parts(
    compiled: Mapping[str, Any], numbers: Mapping[str, int], request: SheetRequest
) -> list[dict[str, Any]]:
    asked = [check for check in compiled["checks"] if check["id"] not in request.left_out]
    return [
        {
            "id": part["id"],
            "number": number,
            "title": pick(part["title"], request.language),
            "checks": [
                _describe_check(check, numbers, request)
                for check in asked
                if check["part"] == part["id"]
            ],
        }
        for number, part in enumerate(compiled["parts"], 1)
    ]


def _describe_check(
    check: Mapping[str, Any], numbers: Mapping[str, int], request: SheetRequest
) -> dict[str, Any]:
    answer_key = CHECK_KINDS[check["kind"]].answer_key
    sizes = [request.size] if request.size else list(check.get("limits", {}))
    labels = [pick(label, request.language) for label in check.get("labels", ())]
    return {
        "number": numbers[check["id"]],
        "answer_key": answer_key or "none",
        "severity": check["severity"],
        "unit": name_unit(check.get("unit", "")),
        "ask": pick(check["ask"], request.language),
        "how": pick(check["how"], request.language),
        "picture": f"pictures/{check.get('picture')}.svg",
        "caution": pick(check["caution"], request.language) if check["caution"] else "",
        "when": describe_when(check["when"]),
        "readings": (labels or [""]) if answer_key == "values" else [],
        "limits": describe_limits(check, sizes),
        "statistic": describe_statistic(check),
        "sum": describe_sum(check["expression"], numbers) if "expression" in check else "",
        "faults": _list_letters(check["faults"], request.language),
        "needs_letter": needs_letter(check),
        "may_not_apply": check.get("may_not_apply", False),
        "options": [
            {**letter, "verdict": option["verdict"]}
            for letter, option in zip(
                _list_letters(check.get("options", ()), request.language),
                check.get("options", ()),
                strict=True,
            )
        ],
    }


def _list_letters(choices: Collection[Mapping[str, Any]], language: str) -> list[dict[str, Any]]:
    return [
        {"letter": letter_of(place), "title": pick(choice["title"], language)}
        for place, choice in enumerate(choices)
    ]
