"""What is counted: the rules behind the trainer's and the buyer's figures.

A check counts for whoever did its step on that stove at that time; the first inspection by
captured time is the first pass; missing and not applicable checks are in no denominator;
doubtful ones are kept apart. Every verdict here is the server's own, judged from the answers.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from qcapp.checklist.model import Check, Checklist, ChoiceCheck
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

    artisan: who did the check's step on this stove, None = not assigned; fault: named by the
    inspector or beyond doubt, only when it counts as a fail; value: in the check's unit.
    """

    inspection_id: str
    first_pass: bool
    checklist_hash: str
    check_id: str
    part: str
    step: str
    severity: str
    artisan: str | None
    verdict: str
    counts_as_fail: bool
    fault: str | None
    value: float | None
    batch: str
    size: str
    stage: str
    stove: str

    @property
    def doubtful(self) -> bool:
        """Too close to a limit for the tool; counted as its check says, always shown apart."""
        return self.verdict == "doubtful"

    @property
    def is_counted(self) -> bool:
        """Whether the check belongs into a denominator."""
        return self.verdict in ("pass", "fail", "doubtful")


def count_result(result: CheckResult) -> CountedCheck:
    """As tallies take it: the fields from check_id to fault."""
    return CountedCheck._make(result[3:11])


def list_results(
    stove_key: str,
    state: Mapping[str, Any],
    checklists: Mapping[str, Checklist],
    judged: JudgedInspections | None = None,
) -> list[CheckResult]:
    """Every check of every inspection in a folded state; `is_counted` tells which count.

    checklists: by hash. Raises NotFound when one is not there. judged: what was judged already.
    """
    judged = judged or JudgedInspections()
    stage, _, stove = stove_key.partition("/")
    first_id = state["inspections"][0]["id"] if state["inspections"] else None
    results = []
    for inspection in state["inspections"]:
        checklist = _get_checklist(inspection, checklists)
        body = inspection["body"]
        of_inspection = (
            inspection["id"],
            inspection["id"] == first_id,
            inspection["checklist_hash"],
        )
        of_stove = (inspection["batch"], body["size"], stage, stove)
        judgements = judged.judge(body, checklist)
        results += [
            CheckResult._make(
                (*of_inspection, *_find_result(check, body, judgements[check.id]), *of_stove)
            )
            for check in checklist.checks
        ]
    return results


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


def _find_result(check: Check, body: Mapping[str, Any], judgement: Judgement) -> tuple[Any, ...]:
    """The fields of a result from check_id to value."""
    is_fail = counts_as_fail(check, judgement.verdict)
    return (
        check.id,
        check.part,
        check.step,
        check.severity,
        body["crew"].get(check.step),
        judgement.verdict,
        is_fail,
        find_fault(check, body["answers"].get(check.id, {}), judgement) if is_fail else None,
        judgement.value,
    )


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
