"""What first looks miss and what they fail without cause, by second looks at the same stoves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.inspection.study import SECOND_LOOK, StudyAnswer
from qcapp.stats.misclassification import LookErrors, LookPair, find_look_errors


@dataclass(frozen=True)
class SecondLookErrors:
    """by_step: each step of a stove is one judgement; by_stove: the whole stove is."""

    by_step: LookErrors
    by_stove: LookErrors


def find_second_look_errors(
    answers: Iterable[StudyAnswer],
    first: Mapping[str, Mapping[str, Any]],
    checklists: Mapping[str, Checklist],
) -> SecondLookErrors:
    """first: the first-pass inspection as it counts (`fold_stove`), by stove key. A second look by
    the same inspector, or at a stove without a first one, is left out. Only checks that both looks
    answered are compared.
    """
    by_step, by_stove = [], []
    for answer in answers:
        inspection = first.get(answer.stove)
        if (
            answer.study != SECOND_LOOK
            or inspection is None
            or inspection["inspector"] == answer.inspector
            or inspection["checklist_hash"] not in checklists
        ):
            continue
        checklist = checklists[inspection["checklist_hash"]]
        steps = _pair_steps(checklist, inspection["body"], answer.answers)
        if steps:
            by_step.append(_count(steps.values()))
            has_failed = tuple(any(looks) for looks in zip(*steps.values(), strict=True))
            by_stove.append(_count([(has_failed[0], has_failed[1])]))
    return SecondLookErrors(find_look_errors(by_step), find_look_errors(by_stove))


def _pair_steps(
    checklist: Checklist, body: Mapping[str, Any], again: Mapping[str, Any]
) -> dict[str, tuple[bool, bool]]:
    """By step, whether each look failed a check of it."""
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    looks = [judge_answers(checklist, given, context) for given in (body["answers"], again)]
    steps: dict[str, tuple[bool, bool]] = {}
    for check in checklist.checks:
        verdicts = [found[check.id].verdict for found in looks]
        if not {"missing", "not_applicable"} & set(verdicts):
            before, after = steps.get(check.step, (False, False))
            steps[check.step] = (
                before or counts_as_fail(check, verdicts[0]),
                after or counts_as_fail(check, verdicts[1]),
            )
    return steps


def _count(judgements: Iterable[tuple[bool, bool]]) -> LookPair:
    kinds = list(judgements)
    return LookPair(
        both_failed=kinds.count((True, True)),
        missed=kinds.count((False, True)),
        false_alarms=kinds.count((True, False)),
        both_passed=kinds.count((False, False)),
    )
