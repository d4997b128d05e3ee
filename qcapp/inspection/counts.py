"""What is counted: the rules behind the trainer's and the buyer's figures.

A check counts for whoever did its step on that stove at that time; the first inspection by
captured time is the first pass; missing and not applicable checks are in no denominator;
doubtful ones are kept apart. Every verdict here is the server's own, judged from the answers.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from qcapp.checklist.check_kinds import Check, ChoiceCheck
from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.judge import Judgement, counts_as_fail
from qcapp.inspection.judged import JudgedInspections
from qcapp.inspection.tallies import CountedCheck
from qcapp.inspection.terms import CANNOT_MEASURE

_SIDES = {
    "below-lower": "below",
    "near-lower": "below",
    "above-upper": "above",
    "near-upper": "above",
}


class CheckResult(NamedTuple):
    """One check of one inspection, as it counts.

    counted: its artisan did the check's step on this stove, None = not assigned; its fault is
    named by the inspector or beyond doubt, only where it is a fail. value: in the check's unit.
    """

    counted: CountedCheck
    value: float | None


def list_results(
    inspection: Mapping[str, Any],
    checklists: Mapping[str, Checklist],
    judged: JudgedInspections | None = None,
) -> list[CheckResult]:
    """Every check of one inspection of a folded state, in the checklist's order.

    checklists: by hash. Raises NotFound when its one is not there. judged: what was judged already.
    """
    judged = judged or JudgedInspections()
    checklist = _get_checklist(inspection, checklists)
    body = inspection["body"]
    judgements = judged.judge(body, checklist)
    crew, answers = body["crew"], body["answers"]
    return [_build_result(check, judgements[check.id], crew, answers) for check in checklist.checks]


def _build_result(
    check: Check, judgement: Judgement, crew: Mapping[str, str], answers: Mapping[str, Any]
) -> CheckResult:
    verdict, _reason, value = judgement
    step = check.step
    # Asked first whether it is what nearly all are.
    is_fail = verdict != "pass" and counts_as_fail(check, verdict)
    fault = find_fault(check, answers.get(check.id, {}), judgement) if is_fail else None
    of_check = (check.id, check.part, step, check.severity)
    return CheckResult(CountedCheck(*of_check, crew.get(step), verdict, is_fail, fault), value)


def verdict_differences(
    inspection: Mapping[str, Any],
    checklists: Mapping[str, Checklist],
    judged: JudgedInspections | None = None,
) -> list[dict[str, str]]:
    """Where the phone's verdict is not the server's: [{check_id, phone, server, reason}].

    A check that the phone says nothing about counts as missing there.
    """
    judged = judged or JudgedInspections()
    checklist = _get_checklist(inspection, checklists)
    phone = inspection["body"]["verdicts"]
    return [
        {
            "check_id": check_id,
            "phone": phone.get(check_id, "missing"),
            "server": judgement.verdict,
            "reason": judgement.reason,
        }
        for check_id, judgement in judged.judge(inspection["body"], checklist).items()
        if phone.get(check_id, "missing") != judgement.verdict
    ]


def _get_checklist(inspection: Mapping[str, Any], checklists: Mapping[str, Checklist]) -> Checklist:
    checklist_hash = inspection["checklist_hash"]
    if checklist_hash not in checklists:
        raise NotFound(
            phrase("this server does not have the checklist"),
            checklist_hash,
            phrase("load the checklist that the phone used"),
        )
    return checklists[checklist_hash]


def find_fault(check: Check, answer: Mapping[str, Any], judgement: Judgement) -> str | None:
    """The inspector's word, else the chosen option's, else the only fault that fits the side."""
    named: str | None = answer.get("fault")
    if named is not None:
        return named
    if judgement.reason == "cannot-measure":
        return CANNOT_MEASURE
    if isinstance(check, ChoiceCheck):
        chosen = [option.fault for option in check.options if option.id == answer.get("option")]
        if chosen and chosen[0] is not None:
            return chosen[0]
    if len(check.faults) == 1:
        return check.faults[0].id
    side = _SIDES.get(judgement.reason)
    fitting = [fault.id for fault in check.faults if side and fault.side == side]
    return fitting[0] if len(fitting) == 1 else None
