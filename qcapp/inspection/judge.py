"""The verdict on an answer: one reading of the rule in tests/vectors/judge/.

The other reading is static/phone/js/inspection/judge.js; a change of rule goes into the vectors
first, then into both. Nothing is rounded before it is compared.
"""

from collections.abc import Callable, Iterable, Mapping
from math import sqrt
from types import MappingProxyType
from typing import Any, NamedTuple

from qcapp.checklist.base_check import Limits, NumberCheck, PhotoCheck
from qcapp.checklist.check_kinds import CalculatedCheck, Check, ChoiceCheck, ReadingsCheck
from qcapp.checklist.expression import evaluate
from qcapp.checklist.model import Checklist
from qcapp.errors import QcappError
from qcapp.i18n.phrase import phrase
from qcapp.inspection.number import number_value, parse_number

Answers = Mapping[str, Any]
Context = Mapping[str, Any]
Others = Mapping[str, Check]
Accepted = tuple[float | None, float | None]

# A sum of typed decimals is a hair off in binary (0.1 + 0.2 is not 0.3). This share of the limit
# is forgiven; it is far below the smallest step of any tool.
SLACK = 1e-9
_NOT_MEASURABLE = ("cannot-measure", "input-not-measurable")


class Judgement(NamedTuple):
    """verdict: pass, fail, doubtful, not_applicable or missing; reason: one word of the rule.

    value: the number that was held against the limits, in the check's unit; else None.
    """

    verdict: str
    reason: str
    value: float | None = None


def judge_answers(checklist: Checklist, answers: Answers, context: Context) -> dict[str, Judgement]:
    """{check id: Judgement} for every check of the checklist, answered or not.

    answers: {check id: answer}; context: {"size": ..., "batch": {attribute: value}}.
    """
    judged: dict[str, Judgement] = {}
    others = checklist.check_by_id
    for check in checklist.checks:
        judged[check.id] = _judge_among(check, answers, context, others, judged)
    return judged


def judge_check(
    check: Check, answers: Answers, context: Context, checklist: Checklist | None = None
) -> Judgement:
    """The verdict on one check; a calculated one needs its checklist, to find its inputs."""
    if check.kind == "calculated" and checklist is None:
        raise QcappError(
            phrase("the inputs are unknown"),
            check.id,
            phrase("give the checklist of the calculated check"),
        )
    return _judge_among(check, answers, context, checklist.check_by_id if checklist else {})


def _judge_among(
    check: Check,
    answers: Answers,
    context: Context,
    others: Others,
    judged: Mapping[str, Judgement] = MappingProxyType({}),
) -> Judgement:
    """judged: of others what is known already."""
    if check.when and not _meets_conditions(check, context):
        return _CONDITION_NOT_MET
    given = answers.get(check.id)
    # Asked first whether it is what nearly all are: an abstract class takes three times as long.
    answer = given if type(given) is dict or isinstance(given, Mapping) else {}
    mark = answer.get("mark")
    if mark == "not_applicable":
        return _judge_not_applicable(check)
    # By the kind's name: to ask for the class takes as long as the rest.
    if check.kind == "tick":
        return _MARKED[mark] if mark in (None, "pass", "fail") else _missing("unknown-mark")
    if mark is not None:
        return _judge_measured_mark(check, mark, context)
    if check.kind == "choice":
        return _judge_option(check, answer.get("option"))
    if check.kind == "calculated":
        return _judge_calculated(check, answers, context, others, judged)
    return _judge_readings(check, answer, context)


def _judge_measured_mark(check: Check, mark: Any, context: Context) -> Judgement:
    if check.answer_key == "values" and mark == "cannot_measure":
        return Judgement("fail", "cannot-measure")
    if isinstance(check, ReadingsCheck) and check.gauge and mark == "gauge":
        has_limits = check.limits_for(context.get("size", "")) is not None
        return Judgement("pass", "gauge-pass") if has_limits else _missing("no-limits")
    return _missing("unknown-mark")


def _judge_not_applicable(check: Check) -> Judgement:
    if check.may_not_apply:
        return Judgement("not_applicable", "marked-not-applicable")
    return _missing("must-apply")


def hinders_release(check: Check, judgement: Judgement) -> bool:
    """Whether a stove with this is not good: a fail, or a sum that nobody can know because what it
    is calculated from cannot be measured.
    """
    is_unknowable = judgement.reason == "input-not-measurable"
    return is_unknowable or counts_as_fail(check, judgement.verdict)


def is_left_out(judgement: Judgement) -> bool:
    """Whether it has still to be looked at."""
    return judgement.verdict == "missing" and judgement.reason != "input-not-measurable"


def counts_as_fail(check: Check, verdict: str) -> bool:
    """Doubtful counts as fail where the check guards against the tool's uncertainty."""
    return verdict == "fail" or (
        verdict == "doubtful" and getattr(check, "decision", "") == "guarded"
    )


def _missing(reason: str) -> Judgement:
    return Judgement("missing", reason)


_CONDITION_NOT_MET = Judgement("not_applicable", "condition-not-met")
_MARKED = {
    None: _missing("no-answer"),
    "pass": Judgement("pass", "marked-pass"),
    "fail": Judgement("fail", "marked-fail"),
}


def _meets_conditions(check: Check, context: Context) -> bool:
    return all(_is_same(_find_fact(key, context), wanted) for key, wanted in check.when.items())


def _find_fact(key: str, context: Context) -> Any:
    if key == "size":
        return context.get("size")
    return context.get("batch", {}).get(key.removeprefix("batch."))


def _is_same(fact: Any, wanted: Any) -> bool:
    # Python alone thinks that True equals 1.
    return isinstance(fact, bool) == isinstance(wanted, bool) and fact == wanted


def _judge_option(check: ChoiceCheck, option_id: Any) -> Judgement:
    if option_id is None:
        return _missing("no-answer")
    for option in check.options:
        if option.id == option_id:
            return Judgement(option.verdict, f"option-{option.verdict}")
    return _missing("unknown-option")


def _judge_readings(check: PhotoCheck, answer: Answers, context: Context) -> Judgement:
    texts = answer.get("values")
    if texts is None or texts == []:
        return _missing("no-answer")
    canonical = list(map(parse_number, texts)) if isinstance(texts, list) else [None]
    numbers = [number_value(text) for text in canonical if text is not None]
    if len(numbers) < len(canonical):
        return _missing("not-a-number")
    if check.is_whole and not all(number.is_integer() for number in numbers):
        return _missing("not-whole")
    if not all(_is_possible(check, number) for number in numbers):
        return _missing("impossible")
    uncertainty = _find_photo_uncertainty(check, answer)
    if uncertainty is not None:
        return _judge_photo(check, numbers, uncertainty, context)
    return _judge_typed(check, numbers, context)


def _judge_typed(check: NumberCheck, numbers: list[float], context: Context) -> Judgement:
    if check.takes_second and len(numbers) == 2:
        return _judge_twice(check, numbers, context)
    if len(numbers) != check.reading_count:
        is_short = len(numbers) < check.reading_count
        return _missing("too-few-readings" if is_short else "too-many-readings")
    return _judge_value(check, _STATISTICS[check.statistic](numbers), context)


def _find_photo_uncertainty(check: NumberCheck, answer: Any) -> float | None:
    """Expanded (k = 2), of a value that stands as a photo gave it; 0 where it is none that can be,
    None where the value is a person's own, or counted.
    """
    holes = answer.get("holes") if isinstance(answer, Mapping) else None
    text = holes.get("uncertainty") if isinstance(holes, Mapping) else None
    if text is None:
        return None
    canonical = parse_number(text)
    uncertainty = number_value(canonical) if canonical else 0.0
    widest = check.possible.upper - check.possible.lower
    is_length = isinstance(check, PhotoCheck) and check.photo_figure is not None
    return uncertainty if is_length and uncertainty <= widest else 0.0


def _judge_photo(
    check: NumberCheck, numbers: list[float], uncertainty: float, context: Context
) -> Judgement:
    """A photo gives the one figure that several readings are taken for."""
    if uncertainty == 0:
        return _missing("photo-impossible")
    if len(numbers) > 1:
        return _missing("too-many-readings")
    return _judge_value(check, numbers[0], context, _accept_with(check, uncertainty))


def _judge_twice(check: NumberCheck, numbers: list[float], context: Context) -> Judgement:
    """A second reading counts only after a doubtful first one: nobody measures until it passes."""
    if _judge_value(check, numbers[0], context).verdict != "doubtful":
        return _missing("too-many-readings")
    return _judge_value(check, _mean(numbers), context, _accept_mean)


def _mean(numbers: list[float]) -> float:
    # sum() adds more exactly from Python 3.12 on; the phone adds from left to right.
    total = 0.0
    for number in numbers:
        total += number
    return total / len(numbers)


_STATISTICS: dict[str, Callable[[list[float]], float]] = {
    "smallest": min,
    "largest": max,
    "mean": _mean,
    "range": lambda numbers: max(numbers) - min(numbers),
}


def _judge_calculated(
    check: CalculatedCheck,
    answers: Answers,
    context: Context,
    others: Others,
    judged: Mapping[str, Judgement],
) -> Judgement:
    inputs = {}
    for other in (others[check_id] for check_id in check.inputs if check_id in others):
        if other.kind != "calculated" and other.id in judged:
            inputs[other.id] = judged[other.id]
        elif other.id != check.id:
            # Out of its own inputs' sight, a circle from a foreign file ends as a missing input.
            rest = {check_id: one for check_id, one in others.items() if check_id != check.id}
            inputs[other.id] = _judge_among(other, answers, context, rest, judged)
    if any(found.reason in _NOT_MEASURABLE for found in inputs.values()):
        return _missing("input-not-measurable")
    values = {key: found.value for key, found in inputs.items()}
    value = evaluate(check.expression, values)
    if value is None:
        return _missing("input-missing")
    if not _is_possible(check, value):
        return _missing("impossible")
    more = _find_more_variance(check, [others[key] for key in inputs], answers, values)
    if more == 0:
        return _judge_value(check, value, context)
    uncertainty = sqrt(check.uncertainty * check.uncertainty + more)
    return _judge_value(check, value, context, _accept_with(check, uncertainty))


def _find_more_variance(
    check: CalculatedCheck,
    inputs: Iterable[Check],
    answers: Answers,
    values: dict[str, float | None],
) -> float:
    """What photos that are less sure than the tools of their checks add to the square of a sum's
    uncertainty, which was stated for the tools (JCGM 100:2008, 5.1.3, note 2).
    """

    def move(one: NumberCheck, by: float) -> float:
        usual, value = evaluate(check.expression, values), values[one.id]
        moved = (
            None if value is None else evaluate(check.expression, {**values, one.id: value + by})
        )
        difference = 0.0 if usual is None or moved is None else moved - usual
        return difference * difference

    total = 0.0
    for one in inputs:
        if isinstance(one, PhotoCheck):
            uncertainty = _find_photo_uncertainty(one, answers.get(one.id))
            more = move(one, uncertainty) - move(one, one.uncertainty) if uncertainty else 0.0
            total += more if more > 0 else 0.0
    return total


def _accept_once(limits: Limits) -> Accepted:
    return limits.accept_lower, limits.accept_upper


def _accept_mean(limits: Limits) -> Accepted:
    """Nearer by what repeating makes smaller, where that is known."""
    return (
        limits.accept_lower if limits.twice_lower is None else limits.twice_lower,
        limits.accept_upper if limits.twice_upper is None else limits.twice_upper,
    )


def _accept_with(check: NumberCheck, uncertainty: float) -> Callable[[Limits], Accepted]:
    """Limits drawn in by another uncertainty than the tool's."""
    band = (1 if check.guard_factor is None else check.guard_factor) * uncertainty
    return lambda limits: (
        None if limits.lower is None else limits.lower + band,
        None if limits.upper is None else limits.upper - band,
    )


def _judge_value(
    check: NumberCheck,
    value: float,
    context: Context,
    accept: Callable[[Limits], Accepted] = _accept_once,
) -> Judgement:
    limits = check.limits_for(context.get("size", ""))
    if limits is None:
        return _missing("no-limits")
    if _is_below(value, limits.lower):
        return Judgement("fail", "below-lower", value)
    if _is_above(value, limits.upper):
        return Judgement("fail", "above-upper", value)
    sure_from, sure_to = accept(limits)
    if _is_below(value, sure_from):
        return Judgement("doubtful", "near-lower", value)
    if _is_above(value, sure_to):
        return Judgement("doubtful", "near-upper", value)
    return Judgement("pass", "within", value)


def _is_possible(check: NumberCheck, number: float) -> bool:
    return not _is_below(number, check.possible.lower) and not _is_above(
        number, check.possible.upper
    )


def _is_below(value: float, limit: float | None) -> bool:
    return limit is not None and value < limit - SLACK * max(1, abs(limit))


def _is_above(value: float, limit: float | None) -> bool:
    return limit is not None and value > limit + SLACK * max(1, abs(limit))
