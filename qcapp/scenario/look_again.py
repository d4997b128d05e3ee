"""What another look at the same stove finds: nearly the same, as people do."""

from collections.abc import Mapping
from random import Random
from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check, ChoiceCheck, CountCheck, TickCheck
from qcapp.checklist.model import Checklist
from qcapp.inspection.number import number_value
from qcapp.scenario.draw import canonical_reading
from qcapp.scenario.records import LookAgain

# Another inspector, another day: how many steps of the tool a second reading of the same place is
# off.
STEPS_OFF = (-1, 0, 0, 1)


def read_again(rng: Random, check: NumberCheck, answer: Mapping[str, Any]) -> dict[str, Any]:
    """The same places measured or counted again."""
    off = (0,) if isinstance(check, CountCheck) else STEPS_OFF
    values = [
        number_value(value) + rng.choice(off) * check.resolution for value in answer["values"]
    ]
    return {"values": [canonical_reading(value, check) for value in values]}


def look_again(
    rng: Random, checklist: Checklist, answers: Mapping[str, Any], habit: LookAgain
) -> dict[str, Any]:
    """Answers of another look to what was answered before, faults of readings not yet named."""
    return {
        check.id: _answer_again(rng, check, answers[check.id], habit)
        for check in checklist.checks
        if check.id in answers
    }


def _answer_again(
    rng: Random, check: Check, answer: Mapping[str, Any], habit: LookAgain
) -> dict[str, Any]:
    if isinstance(check, NumberCheck) and "values" in answer:
        return read_again(rng, check, answer)
    seen = {key: value for key, value in answer.items() if key != "photos"}
    if isinstance(check, TickCheck):
        has_failed = answer.get("mark") == "fail"
        if rng.random() >= (habit.lost if has_failed else habit.found):
            return seen
        fault = {"fault": rng.choice(check.faults).id} if check.faults else {}
        return {"mark": "pass"} if has_failed else {"mark": "fail", **fault}
    if isinstance(check, ChoiceCheck):
        chosen = next(option for option in check.options if option.id == answer["option"])
        is_other = rng.random() < (habit.lost if chosen.verdict == "fail" else habit.found)
        other = [option for option in check.options if option.verdict != chosen.verdict]
        if is_other and other:
            option = rng.choice(other)
            return {"option": option.id, **({"fault": option.fault} if option.fault else {})}
    return seen
