"""A filled paper sheet as it is typed in: cells to answers, answers to the body of an inspection.

What a cell may hold (the letters are those printed on the sheet):

    tick      p or 1 pass; f or 2 fail, with the letter of the fault: fb
    choice    the letter of the option
    readings  the number, point or comma; with the letter of the fault where the sheet asks for it:
    105b; x and why it cannot be measured: x torn
    any       where the checklist allows it n (a tick also 3) and why it does not apply: n no paint
    ordered; after a blank a note: fb rim chipped

An empty cell is a check that was not looked at.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_lowercase
from typing import Any

from qcapp.checklist.check_kinds import Check, ChoiceCheck
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.counts import find_fault
from qcapp.inspection.disposition import allowed_dispositions, needed_checks
from qcapp.inspection.judge import (
    Judgement,
    counts_as_fail,
    hinders_release,
    is_left_out,
    judge_answers,
)
from qcapp.inspection.letters import letter_of, place_of
from qcapp.inspection.number import parse_number

TICKS = {"p": "pass", "1": "pass", "f": "fail", "2": "fail"}
NOT_POSSIBLE = {
    "impossible": phrase(
        "impossible: compare with the sheet; if it says the same, leave this empty and measure "
        "again"
    ),
    "not-whole": phrase("a whole number is needed"),
}
# Marks that stand alone, with their reason.
_ALONE = {
    "not_applicable": (
        phrase("does not apply"),
        phrase("type n and the reason, without a reading"),
    ),
    "cannot_measure": (
        phrase("cannot be measured"),
        phrase("type x and the reason, without a reading"),
    ),
}
Cells = Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class Filled:
    """One stove of a sheet.

    answers: to record; problems: {check id: what is wrong}; judgements: of each check, with what
    stands from earlier looks; missing: ids of what had to be looked at and was not; allowed:
    dispositions, the proposed one first; is_short: outside an agreed sample, so only the critical
    checks had to be.
    """

    answers: dict[str, dict[str, Any]]
    problems: dict[str, str]
    judgements: dict[str, Judgement]
    missing: list[str]
    allowed: list[str]
    is_short: bool = False


def read_cells(check: Check, texts: Sequence[str]) -> dict[str, Any]:
    """The answer that was typed for a check; empty when nothing was. Raises BadInput."""
    answer: dict[str, Any] = {}
    notes = []
    for text in texts:
        head, _, note = text.strip().partition(" ")
        if head:
            _read_head(check, head.lower(), answer)
            notes.append(note.strip())
    note = " ".join(filter(None, notes))
    mark = answer.get("mark")
    if mark in _ALONE:
        if "values" in answer or not note:
            raise _refusal(check, *_ALONE[mark])
        return {**answer, "note": note}
    return {**answer, "note": note} if note else answer


def _read_head(check: Check, head: str, answer: dict[str, Any]) -> None:
    if head == "n" or (check.answer_key == "mark" and head == "3"):
        if not check.may_not_apply:
            raise _refusal(
                check,
                phrase("this check applies to every stove"),
                phrase("answer it, or leave it empty where it was not checked"),
            )
        answer["mark"] = "not_applicable"
    elif check.answer_key == "mark":
        _read_tick(check, head, answer)
    elif isinstance(check, ChoiceCheck):
        place = place_of(head, len(check.options))
        if place is None:
            raise _refusal(
                check,
                phrase("%(head)s is not an answer", head=repr(head)),
                phrase(
                    "type a letter from a to %(last)s, or n and the reason",
                    last=letter_of(len(check.options) - 1),
                ),
            )
        answer["option"] = check.options[place].id
    elif check.answer_key is None:
        answer["fault"] = _find_letter(check, head)
    else:
        _read_number(check, head, answer)


def _read_tick(check: Check, head: str, answer: dict[str, Any]) -> None:
    mark, letters = TICKS.get(head[0]), head[1:]
    if mark is None or (mark == "pass" and letters):
        raise _refusal(
            check,
            phrase("%(head)s is not an answer", head=repr(head)),
            phrase("type p, f with the letter of the fault, or n and the reason"),
        )
    answer["mark"] = mark
    if letters:
        answer["fault"] = _find_letter(check, letters)


def _read_number(check: Check, head: str, answer: dict[str, Any]) -> None:
    if head.startswith("x"):
        answer["mark"] = "cannot_measure"
        if head[1:]:
            answer["fault"] = _find_letter(check, head[1:])
        return
    typed = head.rstrip(ascii_lowercase)
    letters = head[len(typed) :]
    number = parse_number(typed)
    if number is None:
        raise _refusal(
            check,
            phrase("%(head)s is not a number", head=repr(head)),
            phrase("type digits with at most one point or comma, in the unit on the sheet"),
        )
    answer.setdefault("values", []).append(number)
    if letters:
        answer["fault"] = _find_letter(check, letters)


def _find_letter(check: Check, letters: str) -> str:
    place = place_of(letters, len(check.faults))
    if place is None:
        raise _refusal(
            check,
            phrase("there is no fault %(letters)s", letters=repr(letters)),
            list_faults(check),
        )
    return check.faults[place].id


def list_faults(check: Check) -> str:
    return phrase(
        "type the letter of the fault: %(faults)s",
        faults=[
            f"{letter_of(place)} {fault.title['en']}" for place, fault in enumerate(check.faults)
        ],
    )


def _refusal(check: Check, what: str, todo: str) -> BadInput:
    return BadInput(what, check.id, todo)


def fill_stove(
    checklist: Checklist,
    cells: Cells,
    context: Mapping[str, Any],
    earlier: Mapping[str, dict[str, Any]] = {},
    *,
    is_short: bool = False,
) -> Filled:
    """cells: typed texts by check id; context: as for the judge; earlier: answers of looks before
    this one.
    """
    answers: dict[str, dict[str, Any]] = {}
    problems: dict[str, str] = {}
    for check in checklist.checks:
        try:
            answer = read_cells(check, cells.get(check.id, ()))
        except BadInput as error:
            problems[check.id] = phrase("%(what)s: %(todo)s", what=error.what, todo=error.todo)
            continue
        if answer:
            answers[check.id] = answer
    judgements = judge_answers(checklist, {**earlier, **answers}, context)
    for check in checklist.checks:
        problem = _name_fault(check, judgements[check.id], answers, earlier)
        if problem:
            problems.setdefault(check.id, problem)
    failing = [
        check.severity for check in checklist.checks if hinders_release(check, judgements[check.id])
    ]
    missing = [
        name for name in needed_checks(checklist.checks, is_short) if is_left_out(judgements[name])
    ]
    recorded = {**_inputs_used(checklist, answers, earlier), **answers}
    return Filled(
        recorded,
        problems,
        judgements,
        missing,
        allowed_dispositions(failing, bool(missing)),
        is_short,
    )


def _name_fault(
    check: Check,
    judgement: Judgement,
    answers: dict[str, dict[str, Any]],
    earlier: Mapping[str, dict[str, Any]],
) -> str | None:
    """Puts the fault that leaves no doubt into the answer; gives what is wrong, if anything is."""
    answer = answers.get(check.id, {})
    if judgement.reason in NOT_POSSIBLE:
        return NOT_POSSIBLE[judgement.reason]
    if not counts_as_fail(check, judgement.verdict):
        return (
            phrase("a fault is named, but the check does not fail: compare with the sheet")
            if "fault" in answer
            else None
        )
    if check.id not in answers and (check.id in earlier or check.answer_key is not None):
        return None
    fault = find_fault(check, answer, judgement)
    if fault is not None:
        answers[check.id] = {**answer, "fault": fault}
    return list_faults(check) if fault is None and check.faults else None


def _inputs_used(
    checklist: Checklist,
    answers: Mapping[str, dict[str, Any]],
    earlier: Mapping[str, dict[str, Any]],
) -> dict[str, dict[str, Any]]:
    """Readings of an earlier look that a new one is calculated with; they are recorded again, as
    the phone does.
    """
    used: dict[str, dict[str, Any]] = {}
    for check in checklist.checks:
        if check.kind == "calculated" and any(name in answers for name in check.inputs):
            used |= {name: earlier[name] for name in check.inputs if name in earlier}
    return used


def build_paper_body(
    checklist: Checklist,
    filled: Filled,
    *,
    batch: Mapping[str, Any],
    crew: Mapping[str, str],
    disposition: Mapping[str, str],
    captured_at: str,
    entered_by: str,
    entered_at: str,
) -> dict[str, Any]:
    """Body of the inspection event. crew: {trade: code}, unknown ones left out.

    source and entered_* mark it as paper, not phone: such a record has no time of its own for the
    walk.
    """
    context = {"size": batch["size"], "batch": batch["attributes"]}
    judged = judge_answers(checklist, filled.answers, context)
    return {
        "size": batch["size"],
        "batch_attributes": dict(batch["attributes"]),
        "started_at": captured_at,
        "crew": {step.id: crew[step.trade] for step in checklist.steps if crew.get(step.trade)},
        "answers": filled.answers,
        "verdicts": {key: found.verdict for key, found in judged.items()},
        "disposition": dict(disposition),
        **({"scope": "critical"} if filled.is_short else {}),
        "source": "paper",
        "entered_by": entered_by,
        "entered_at": entered_at,
    }
