"""Measured values of a batch against their limits: bins, capability, tools."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import Criteria
from qcapp.i18n.messages import Message
from qcapp.inspection.batch_facts import BatchFacts, ResultGroup
from qcapp.reports.photo_figures import list_photo_figures
from qcapp.reports.summary_messages import (
    ALL_THE_SAME,
    COUNTED,
    NO_BELL_CURVE,
    NO_LIMIT,
    ONE_LIMIT,
    TOO_FEW_VALUES,
)
from qcapp.stats.capability import measure_capability, normality_p
from qcapp.stats.interval import Estimate

MAX_BINS = 16
# Below this an index says little; some fifty are better (its interval shows it).
FEWEST_FOR_INDEX = 25
# The test of normality is misled by a tool whose step is coarse against the spread.
STEPS_OF_SPREAD = 2.0
MIN_NORMAL_P = 0.005


@dataclass(frozen=True)
class Values:
    """Different values of one check, in its unit, each with how often it was found; ascending."""

    counts: tuple[tuple[float, int], ...]

    @property
    def n(self) -> int:
        return sum(count for _value, count in self.counts)

    def expand(self) -> list[float]:
        return [value for value, count in self.counts for _ in range(count)]

    @property
    def median(self) -> float:
        values = self.expand()
        middle = len(values) // 2
        return values[middle] if len(values) % 2 else (values[middle - 1] + values[middle]) / 2


def list_measures(facts: BatchFacts) -> list[dict[str, Any]]:
    """First-pass values of every measured check of the batch's own size, in its order.

    Values that were judged by other limits, of another revision, stand by themselves.
    """
    history, size, found = facts.history, facts.batch["size"], []
    by_photo = _collect_photo_uncertainties(facts)
    for ref in history.checks:
        for criteria in history.list_check_criteria(ref, size):
            check = criteria.judged
            limits = check.limits_for(size) if isinstance(check, NumberCheck) else None
            values = _collect(facts, criteria)
            if isinstance(check, NumberCheck) and values.n and limits is not None:
                measure = _describe(check, limits, values, _count_outside(facts, criteria))
                sure = [one for key in criteria.hashes for one in by_photo.get((key, check.id), ())]
                found.append({**measure, "by_photo": _describe_by_photo(sure)})
    return found


def _collect_photo_uncertainties(facts: BatchFacts) -> dict[tuple[str, str], list[float]]:
    """Of the values that were taken as a photo gave them, at the batch's own size, by hash of the
    checklist and check: the photo's uncertainty is what these were judged with.
    """
    found: dict[tuple[str, str], list[float]] = {}
    for one in facts.photo_passes:
        if one.body["size"] == facts.batch["size"]:
            for figure in list_photo_figures(facts.checklists[one.checklist_hash], one.body):
                if figure.is_taken and figure.uncertainty is not None:
                    key = (one.checklist_hash, figure.check.id)
                    found.setdefault(key, []).append(figure.uncertainty)
    return found


def _describe_by_photo(uncertainties: Sequence[float]) -> dict[str, Any] | None:
    if not uncertainties:
        return None
    least, most = min(uncertainties), max(uncertainties)
    return {"n": len(uncertainties), "least": as_plain(least), "most": as_plain(most)}


def list_tools(facts: BatchFacts) -> list[dict[str, Any]]:
    """Whatever was read with a tool; calculated checks have the tools of their inputs."""
    return [
        {
            "check": check.id,
            "ask": check.ask["en"],
            "resolution": as_plain(check.resolution),
            "uncertainty": as_plain(check.uncertainty),
            "decision": check.decision,
        }
        for check in facts.checklist.checks
        if isinstance(check, NumberCheck) and check.answer_key
    ]


def as_decimal(value: float, places: int) -> str:
    """With that many places, no minus before nothing."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def as_plain(value: float) -> str:
    """A typed or written number in decimal digits, without noughts at its end: 0.10 -> "0.1"."""
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _is_of(facts: BatchFacts, criteria: Criteria[Check], group: ResultGroup) -> bool:
    return bool(
        group.check_id == criteria.judged.id
        and group.size == facts.batch["size"]
        and group.checklist_hash in criteria.hashes
    )


def _collect(facts: BatchFacts, criteria: Criteria[Check]) -> Values:
    counts: dict[float, int] = {}
    for group in facts.results:
        if (
            group.value is not None
            and group.verdict in ("pass", "fail", "doubtful")
            and _is_of(facts, criteria, group)
        ):
            counts[group.value] = counts.get(group.value, 0) + group.count
    return Values(tuple(sorted(counts.items())))


def _count_outside(facts: BatchFacts, criteria: Criteria[Check]) -> int:
    return sum(
        group.count
        for group in facts.results
        if group.value is not None and group.verdict == "fail" and _is_of(facts, criteria, group)
    )


def _describe(check: NumberCheck, limits: Limits, values: Values, outside: int) -> dict[str, Any]:
    places = _places(check)
    indices = _describe_indices(check, limits, values)
    return {
        "check": check.id,
        "ask": check.ask["en"],
        "unit": check.unit,
        **{
            name: None if (end := getattr(limits, name)) is None else as_plain(end)
            for name in ("lower", "nominal", "upper")
        },
        "n": values.n,
        "smallest": as_plain(round(values.counts[0][0], places)),
        "median": as_plain(round(values.median, places + 1)),
        "largest": as_plain(round(values.counts[-1][0], places)),
        "outside": outside,
        "uncertainty": as_plain(check.uncertainty),
        "bins": _fill_bins(
            values, Decimal(repr(check.resolution)), is_read=check.answer_key is not None
        ),
        **indices,
    }


def _places(check: NumberCheck) -> int:
    """Decimal places of the tool's smallest step; one more for what is calculated."""
    digits = as_plain(check.resolution).partition(".")[2]
    return len(digits) + (check.reading_count != 1)


def _fill_bins(values: Values, step: Decimal, *, is_read: bool) -> list[dict[str, Any]]:
    """At most MAX_BINS bins of one width, a whole number of tool steps; a value counts where from
    <= value < to.

    is_read: the edges lie between two steps of the tool, so that no reading lies on one. step 0 (no
    tool) is taken as a thousandth of the range.
    """
    low, high = Decimal(repr(values.counts[0][0])), Decimal(repr(values.counts[-1][0]))
    step = step or max((high - low) / 1000, Decimal("0.001"))
    width = step * _find_multiple((high - low) / step)
    shift = step / 2 if is_read else Decimal(0)
    start = ((low + shift) / width).to_integral_value(ROUND_FLOOR) * width - shift
    number = int((high - start) / width) + 1
    counts = [0] * number
    for value, count in values.counts:
        counts[int((Decimal(repr(value)) - start) / width)] += count
    return [
        {
            "from": _edge(start + place * width),
            "to": _edge(start + (place + 1) * width),
            "count": count,
        }
        for place, count in enumerate(counts)
    ]


def _find_multiple(steps: Decimal) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50 ... with which the range needs no more than MAX_BINS - 1
    bins.
    """
    multiple = 1
    while steps / multiple > MAX_BINS - 2:
        multiple = multiple * 5 // 2 if str(multiple).startswith("2") else multiple * 2
    return multiple


def _edge(value: Decimal) -> str:
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _describe_indices(check: NumberCheck, limits: Limits, values: Values) -> dict[str, Any]:
    why = _find_why_not(check, limits, values)
    if why is not None:
        return {"pp": None, "ppk": None, "why_no_index": why.to_json()}
    found = measure_capability(values.expand(), limits.lower, limits.upper)
    return {
        "pp": _describe_index(found.pp),
        "ppk": _describe_index(found.ppk),
        "why_no_index": None if found.pp else ONE_LIMIT().to_json(),
    }


def _find_why_not(check: NumberCheck, limits: Limits, values: Values) -> Message | None:
    if limits.lower is None and limits.upper is None:
        return NO_LIMIT()
    if check.is_whole:
        return COUNTED()
    if values.n < FEWEST_FOR_INDEX:
        return TOO_FEW_VALUES(values=values.n, needed=FEWEST_FOR_INDEX)
    if len(values.counts) == 1:
        return ALL_THE_SAME()
    expanded = values.expand()
    if (
        _spread(expanded) >= STEPS_OF_SPREAD * check.resolution
        and normality_p(expanded) < MIN_NORMAL_P
    ):
        return NO_BELL_CURVE()
    return None


def _spread(values: Sequence[float]) -> float:
    mean = sum(values) / len(values)
    return math.sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))


def _describe_index(estimate: Estimate | None) -> dict[str, Any] | None:
    if estimate is None:
        return None
    return {
        "value": as_decimal(estimate.value, 2),
        "low": as_decimal(estimate.low, 2),
        "high": as_decimal(estimate.high, 2),
    }
