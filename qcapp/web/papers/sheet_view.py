"""A sheet that is typed in as its pages show it: fields by part, then the verdicts of each
stove.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.check_kinds import Check, ChoiceCheck
from qcapp.checklist.items import Fault, Option
from qcapp.documents.sheet_words import describe_limits, describe_statistic, needs_letter
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.inspection.judge import Judgement, counts_as_fail
from qcapp.inspection.letters import letter_of
from qcapp.inspection.not_asked import list_not_asked
from qcapp.reports.faults import name_fault
from qcapp.usecases.paper_sheet import Column, Sheet, cell_name, count_cells, piece_name
from qcapp.web.layout.template_filters import as_localized

# A check, what the judge made of it, and a note beside it.
Judged = tuple[Check, Judgement, str]


def list_names(sheet: Sheet) -> list[str]:
    """Names of the fields that may have to be mended, in their order on the page."""
    around = [
        "day",
        "offset",
        "inspector",
        *(f"{name}-{index}" for name in ("serial", "time") for index in range(sheet.stoves)),
        *(piece_name(stage, index) for stage in sheet.pieces for index in range(sheet.stoves)),
    ]
    return [
        *around,
        *(
            cell_name(check.id, index, 0)
            for check in sheet.checklist.checks
            for index in range(sheet.stoves)
        ),
    ]


def list_parts(sheet: Sheet) -> list[dict[str, Any]]:
    """The checks this batch is asked, by part, with the numbers and letters of the printed
    sheet.
    """
    left_out = list_not_asked(sheet.checklist, sheet.batch)
    numbers = {check.id: number for number, check in enumerate(sheet.checklist.checks, 1)}
    rows: dict[str, list[dict[str, Any]]] = {part.id: [] for part in sheet.checklist.parts}
    for check in sheet.checklist.checks:
        if check.id not in left_out:
            rows[check.part].append(_describe_check(check, numbers[check.id], sheet.batch["size"]))
    return [
        {"title": as_localized(part.title), "rows": rows[part.id]}
        for part in sheet.checklist.parts
        if rows[part.id]
    ]


def _describe_check(check: Check, number: int, size: str) -> dict[str, Any]:
    plain = check.model_dump(mode="json")
    has_letter = needs_letter(plain)
    choices: Sequence[Option | Fault] = check.faults if has_letter else ()
    if isinstance(check, ChoiceCheck):
        choices = check.options
    labels = [as_localized(label) for label in check.reading_labels] or [""] * count_cells(check)
    return {
        "id": check.id,
        "number": number,
        "kind": check.kind,
        "ask": as_localized(check.ask),
        "severity": check.severity,
        "labels": labels if check.answer_key or has_letter else [],
        "limits": join(SEMICOLON, (one["text"] for one in describe_limits(plain, [size]))),
        "statistic": describe_statistic(plain),
        "letters": [
            (letter_of(place), as_localized(choice.title)) for place, choice in enumerate(choices)
        ],
    }


@dataclass(frozen=True)
class Verdicts:
    """Checks of a stove by what they came to; passed ones only as a count, of those asked."""

    failed: list[Judged]
    doubtful: list[Judged]
    missing: list[Judged]
    not_applicable: list[Judged]
    passed: int
    of: int


def list_verdicts(sheet: Sheet, column: Column) -> Verdicts:
    left_out, filled = list_not_asked(sheet.checklist, sheet.batch), column.filled
    found = [
        (check, filled.judgements[check.id])
        for check in sheet.checklist.checks
        if check.id not in left_out
    ]
    return Verdicts(
        failed=[
            (check, judged, _name_fault(check, filled.answers.get(check.id, {})))
            for check, judged in found
            if counts_as_fail(check, judged.verdict)
        ],
        doubtful=[
            (check, judged, "")
            for check, judged in found
            if judged.verdict == "doubtful" and not counts_as_fail(check, "doubtful")
        ],
        missing=[(check, judged, "") for check, judged in found if check.id in filled.missing],
        not_applicable=[
            (check, judged, filled.answers.get(check.id, {}).get("note", ""))
            for check, judged in found
            if judged.verdict == "not_applicable"
        ],
        passed=sum(judged.verdict == "pass" for _, judged in found),
        of=sum(
            judged.verdict != "missing" or check.id in filled.missing for check, judged in found
        ),
    )


def _name_fault(check: Check, answer: dict[str, Any]) -> str:
    return name_fault(check, answer["fault"]) if answer.get("fault") else ""
