"""What the judge says of one article's answers, and the faults that follow from readings."""

from typing import Any

from qcapp.inspection.judge import Judgement, counts_as_fail, judge_answers
from qcapp.scenario.schedule import Work

Answers = dict[str, dict[str, Any]]


def judge(work: Work, answers: dict[str, Any]) -> dict[str, Judgement]:
    context = {"size": work.batch.size, "batch": dict(work.batch.attributes)}
    return judge_answers(work.checklist, answers, context)


def list_failed(work: Work, answers: Answers) -> list[str]:
    """Ids of the failed checks."""
    checks = work.checklist.check_by_id
    judged = judge(work, answers)
    return [key for key, found in judged.items() if counts_as_fail(checks[key], found.verdict)]


def name_faults(work: Work, answers: Answers) -> Answers:
    """A reading beyond a limit gets the fault that the checklist names for that side."""
    named = dict(answers)
    for check_id, found in judge(work, answers).items():
        side = {"below-lower": "below", "above-upper": "above"}.get(found.reason or "")
        faults = [
            fault.id for fault in work.checklist.check_by_id[check_id].faults if fault.side == side
        ]
        if side and faults and check_id in answers:
            named[check_id] = {**answers[check_id], "fault": faults[0]}
    return named
