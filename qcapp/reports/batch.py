"""The lead's question: what was checked in this batch, what was found, what became of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.batch_facts import SEVERITIES, StovePass
from qcapp.inspection.report_counts import CheckTally, FaultTally
from qcapp.reports.faults import name_fault
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import select_fully_inspected, select_looked_at
from qcapp.reports.totals import BatchTotals, count_stoves, divide_faults
from qcapp.stats.interval import Estimate, Interval
from qcapp.stats.per_unit import rate_per_unit
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class Share:
    """count of `of` stoves, with Wilson's 95 % interval; interval None of nothing."""

    count: int
    of: int
    interval: Interval | None

    @property
    def rate(self) -> float | None:
        return self.count / self.of if self.of else None


@dataclass(frozen=True)
class PerStove:
    """Faults of so many fully inspected stoves; rate None of nothing."""

    faults: int
    of: int
    rate: Estimate | None


@dataclass(frozen=True)
class CheckRow:
    check: str
    ask: str
    part: str
    severity: str
    inspected: int
    failed: int
    doubtful: int
    faults: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class BatchReport:
    """One batch by one checklist.

    first_pass: good ones among the fully inspected stoves. by_severity: stoves with such a fault
    among those looked at for it. by_stove: (serial, faults) of the fully inspected ones, in the
    order inspected.
    """

    code: str
    title: str
    stage: str
    checklist: str
    size: str
    totals: BatchTotals
    first_pass: Share
    by_severity: Mapping[str, Share]
    per_stove: PerStove
    by_stove: tuple[tuple[str, int], ...]
    parts: Mapping[str, str]
    rows: tuple[CheckRow, ...]


class StageCount(Protocol):
    """Stoves of a batch and checklist that got one disposition, and how many of them had failed."""

    @property
    def checklist(self) -> str: ...

    @property
    def disposition(self) -> str: ...

    @property
    def stoves(self) -> int: ...

    @property
    def failed(self) -> int: ...


@dataclass(frozen=True)
class StageCounts:
    """What the store counts of a batch by one checklist. plan: None where none is about it: then it
    is inspected stove by stove, of a number that nobody said.
    """

    states: Sequence[StageCount]
    released_later: int
    passes: Sequence[StovePass]
    checks: Sequence[CheckTally]
    faults: Sequence[FaultTally]
    plan: AgreedPlan | None


def build_batch_report(
    batch: Mapping[str, Any], checklist: Checklist, counts: StageCounts
) -> BatchReport:
    """checklist: with what only its older revisions have."""
    passes, plan = counts.passes, counts.plan
    whole = select_fully_inspected(passes, plan)
    found = [stove.faults for stove in whole]
    return BatchReport(
        code=batch["code"],
        title=batch["title"],
        stage=checklist.stage,
        checklist=checklist.id,
        size=batch["size"],
        totals=_count_totals(counts),
        first_pass=_share(sum(not stove.has_fail for stove in whole), len(whole)),
        by_severity={kind: _count_severity(passes, plan, kind) for kind in SEVERITIES},
        per_stove=PerStove(sum(found), len(found), rate_per_unit(found) if found else None),
        by_stove=tuple(
            (stove.serial, stove.faults)
            for stove in sorted(whole, key=lambda stove: (stove.at, stove.serial))
        ),
        parts={part.id: text_of(part.title) for part in checklist.parts},
        rows=_build_rows(checklist, counts.checks, counts.faults),
    )


def _count_totals(counts: StageCounts) -> BatchTotals:
    inspected = sum(row.stoves for row in counts.states)
    by = divide_faults((one.part, one.check_id, one.severity, one.failed) for one in counts.checks)
    stoves = count_stoves(
        offered=max(counts.plan.lot, inspected) if counts.plan else None,
        faulty=sum(row.failed for row in counts.states),
        dispositions={row.disposition: row.stoves for row in counts.states},
        released_later=counts.released_later,
    )
    return BatchTotals(stoves, sum(one.failed for one in counts.faults), by)


def _count_severity(passes: Sequence[StovePass], plan: AgreedPlan | None, severity: str) -> Share:
    looked_at = select_looked_at(passes, plan, severity)
    return _share(sum(stove.failed[severity] > 0 for stove in looked_at), len(looked_at))


def _share(count: int, of: int) -> Share:
    return Share(count, of, wilson_interval(count, of) if of else None)


def _build_rows(
    checklist: Checklist, checks: Sequence[CheckTally], faults: Sequence[FaultTally]
) -> tuple[CheckRow, ...]:
    known = checklist.check_by_id
    rows = [
        CheckRow(
            check=tally.check_id,
            ask=text_of(known[tally.check_id].ask) if tally.check_id in known else tally.check_id,
            part=tally.part,
            severity=tally.severity,
            inspected=tally.inspected,
            failed=tally.failed,
            doubtful=tally.doubtful,
            faults=_name_faults(known.get(tally.check_id), tally, faults),
        )
        for tally in checks
    ]
    rows.sort(key=lambda row: (-row.failed, SEVERITIES.index(row.severity), row.check))
    return tuple(rows)


def _name_faults(
    check: Check | None, tally: CheckTally, faults: Iterable[FaultTally]
) -> tuple[tuple[str, int], ...]:
    """Of this row: a check that changed its part or severity in a revision has several."""
    found = [
        (name_fault(check, one.fault), one.failed)
        for one in faults
        if (one.check_id, one.part, one.step, one.severity)
        == (tally.check_id, tally.part, tally.step, tally.severity)
    ]
    return tuple(sorted(found, key=lambda item: (-item[1], item[0])))
