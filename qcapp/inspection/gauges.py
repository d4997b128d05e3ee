"""Templates and gauges: what the records say of each, and when it is due for a check.

The interval follows the "staircase" of ILAC-G24:2022 / OIML D 10:2022, 6.2 (method 1, automatic
adjustment, calendar time): longer after a routine check that found the error within a part of what
is permitted (80 % there, as an example), shorter after one outside, else as it was. The guide
gives no factors: those here are a start, and the yard's to set for each gauge. (Name and place of
the method: contents of the 2022 edition; the 80 %: from memory of the 2007 edition.)

What the guide leaves open is settled here on the side of caution. A check earlier than three
quarters of the interval shows too little to lengthen it. After one outside, the gauge is due at
once, until a check finds it within; neither that one nor another outside before it is a routine
check, and the interval stays.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any, Literal, NamedTuple

WITHIN_PERCENT = 80
LONGER_PERCENT = 150
SHORTER_PERCENT = 50
FIRST_DAYS, MIN_DAYS, MAX_DAYS = 28, 7, 182
# Of the interval; an earlier check lengthens nothing.
EARLY_SHARE = Decimal("0.75")

Finding = Literal["well_within", "within", "outside"]
Change = Literal["longer", "shorter", "kept"]


class GaugeRecord(NamedTuple):
    """An event of kind gauge or gauge_check, and when the server got it (UTC text)."""

    event: Mapping[str, Any]
    received_at: str


@dataclass(frozen=True)
class GaugeTerms:
    """A gauge as one record describes it, by that record's id. at: UTC text; value, tolerance: in
    `unit`.
    """

    id: str
    at: str
    since: date
    kind: Literal["template", "gauge"]
    name: str
    step: str | None
    tool: str | None
    template: str | None
    piece: str
    value: Decimal
    tolerance: Decimal
    unit: str
    interval_days: int
    within_percent: int
    longer_percent: int
    shorter_percent: int
    min_days: int
    max_days: int

    @property
    def lower(self) -> Decimal:
        return self.value - self.tolerance

    @property
    def upper(self) -> Decimal:
        return self.value + self.tolerance

    def judge(self, value: Decimal) -> Finding:
        error = abs(value - self.value)
        if error > self.tolerance:
            return "outside"
        is_well = error * 100 <= self.tolerance * self.within_percent
        return "well_within" if is_well else "within"

    def step_interval(self, days: int, change: Change) -> int:
        """The next interval in days; by one day at least, within the bounds."""
        if change == "longer":
            return max(days, min(self.max_days, max(days + 1, days * self.longer_percent // 100)))
        if change == "shorter":
            return min(days, max(self.min_days, days * self.shorter_percent // 100))
        return days


@dataclass(frozen=True)
class GaugeCheck:
    """One check. day: in the yard; interval_days: as it is after this check."""

    id: str
    by: str
    at: str
    day: date
    value: Decimal
    terms: GaugeTerms
    finding: Finding
    change: Change
    interval_days: int

    @property
    def error(self) -> Decimal:
        return self.value - self.terms.value

    @property
    def is_outside(self) -> bool:
        return self.finding == "outside"


@dataclass(frozen=True)
class Gauge:
    """id: of its first record; checks: oldest first; voided: ids of checks that were wrong."""

    id: str
    terms: GaugeTerms
    since: date
    checks: tuple[GaugeCheck, ...]
    interval_days: int
    voided: tuple[str, ...] = ()

    @cached_property
    def last(self) -> GaugeCheck | None:
        return self.checks[-1] if self.checks else None

    @property
    def is_outside(self) -> bool:
        return self.last is not None and self.last.is_outside

    @property
    def due_on(self) -> date:
        """A new one is due at once, and so is one that was outside."""
        if self.last is None:
            return self.since
        return self.last.day + timedelta(days=0 if self.is_outside else self.interval_days)

    def is_due(self, today: date) -> bool:
        return self.due_on <= today


def build_gauges(records: Iterable[GaugeRecord]) -> list[Gauge]:
    """Those in use, by name. records: in log order."""
    records = list(records)
    withdrawn = {record.event["body"].get("withdraws") for record in records}
    terms: dict[str, list[GaugeTerms]] = {}
    checks: dict[str, list[GaugeRecord]] = {}
    voided: dict[str, list[str]] = {}
    for record in records:
        body, event_id = record.event["body"], record.event["id"]
        if body.get("withdraws"):
            continue
        gauge_id = body.get("gauge") or event_id
        if record.event["kind"] == "gauge":
            terms.setdefault(gauge_id, []).append(_read_terms(record))
        elif event_id in withdrawn:
            voided.setdefault(gauge_id, []).append(event_id)
        else:
            checks.setdefault(gauge_id, []).append(record)
    found = [
        _build(gauge_id, own, checks.get(gauge_id, []), tuple(voided.get(gauge_id, ())))
        for gauge_id, own in terms.items()
        if gauge_id not in withdrawn
    ]
    return sorted(found, key=lambda gauge: (gauge.terms.name, gauge.id))


def _read_terms(record: GaugeRecord) -> GaugeTerms:
    body = record.event["body"]
    same = ("kind", "name", "piece", "unit", "interval_days", "min_days", "max_days")
    percents = ("within_percent", "longer_percent", "shorter_percent")
    return GaugeTerms(
        id=record.event["id"],
        at=_find_moment(record),
        since=_find_day(record),
        step=body.get("step"),
        tool=body.get("tool"),
        template=body.get("template"),
        value=Decimal(body["value"]),
        tolerance=Decimal(body["tolerance"]),
        **{name: body[name] for name in (*same, *percents)},
    )


def _find_moment(record: GaugeRecord) -> str:
    """A phone whose clock runs ahead makes no gauge good for longer: nothing is later than its
    receipt.
    """
    captured_at: str = record.event["captured_at"]
    return min(captured_at, record.received_at)


def _find_day(record: GaugeRecord) -> date:
    """The day in the yard."""
    moment = datetime.fromisoformat(_find_moment(record))
    return (moment + timedelta(minutes=record.event.get("tz_min", 0))).date()


def _build(
    gauge_id: str,
    terms: Sequence[GaugeTerms],
    records: Sequence[GaugeRecord],
    voided: tuple[str, ...],
) -> Gauge:
    known = {one.id: one for one in terms}
    held = [one for one in records if one.event["body"]["held_against"] in known]
    held.sort(key=lambda one: (_find_moment(one), one.event["id"]))
    checks = tuple(_climb(terms, known, held))
    # Terms that came after the last check begin with the interval they state.
    newest = terms[-1]
    is_newer = not held or newest.at > _find_moment(held[-1])
    interval = newest.interval_days if is_newer else checks[-1].interval_days
    return Gauge(gauge_id, newest, terms[0].since, checks, interval, voided)


def _climb(
    terms: Sequence[GaugeTerms], known: Mapping[str, GaugeTerms], records: Iterable[GaugeRecord]
) -> Iterator[GaugeCheck]:
    """The stairs: each check with the interval after it."""
    current, days, before, was_outside = terms[0], terms[0].interval_days, terms[0].since, False
    for record in records:
        day = _find_day(record)
        moment = _find_moment(record)
        newest = next((one for one in reversed(terms) if one.at <= moment), terms[0])
        if newest is not current:
            current, days = newest, newest.interval_days
        body = record.event["body"]
        own, value = known[body["held_against"]], Decimal(body["value"])
        finding = own.judge(value)
        is_early = (day - before).days < days * EARLY_SHARE
        change = "kept" if was_outside else _find_change(finding, is_early=is_early)
        days = current.step_interval(days, change)
        yield GaugeCheck(
            record.event["id"],
            record.event["inspector"],
            record.event["captured_at"],
            day,
            value,
            own,
            finding,
            change,
            days,
        )
        before, was_outside = day, finding == "outside"


def _find_change(finding: Finding, *, is_early: bool) -> Change:
    if finding == "outside":
        return "shorter"
    return "longer" if finding == "well_within" and not is_early else "kept"
