"""The buyer's question: what was checked in this batch, what was found, what became of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.tallies import CheckTally, FaultTally
from qcapp.inspection.terms import NOT_NAMED
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

DISPOSITIONS = ("release", "rework", "concession", "scrap", "hold")
SEVERITIES = ("critical", "major", "minor")


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
    """One batch by one checklist. Counts are stoves; fails_by_part counts failed checks."""

    code: str
    title: str
    stage: str
    checklist: str
    size: str
    planned: int
    inspected: int
    first_pass_good: Share
    by_disposition: Mapping[str, int]
    by_severity: Mapping[str, Share]
    fails: int
    fails_by_part: Mapping[str, int]
    parts: Mapping[str, str]
    rows: tuple[CheckRow, ...]

    @property
    def fails_per_stove(self) -> float | None:
        return self.fails / self.inspected if self.inspected else None


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


def build_batch_report(
    batch: Mapping[str, Any],
    checklist: Checklist,
    states: Iterable[StageCount],
    checks: Sequence[CheckTally],
    faults: Sequence[FaultTally],
    failed_by_severity: Mapping[str, int],
) -> BatchReport:
    """states: of every checklist of the batch; the rest of this one."""
    here = [row for row in states if row.checklist == checklist.id]
    inspected = sum(row.stoves for row in here)
    failed = sum(row.failed for row in here)
    counted = {row.disposition: row.stoves for row in here}
    by_part: dict[str, int] = {}
    for tally in checks:
        by_part[tally.part] = by_part.get(tally.part, 0) + tally.failed
    return BatchReport(
        code=batch["code"],
        title=batch["title"],
        stage=checklist.stage,
        checklist=checklist.id,
        size=batch["size"],
        planned=batch["planned"],
        inspected=inspected,
        first_pass_good=_share(inspected - failed, inspected),
        by_disposition={kind: counted.get(kind, 0) for kind in DISPOSITIONS},
        by_severity={
            kind: _share(failed_by_severity.get(kind, 0), inspected) for kind in SEVERITIES
        },
        fails=sum(tally.failed for tally in checks),
        fails_by_part=by_part,
        parts={part.id: text_of(part.title) for part in checklist.parts},
        rows=_build_rows(checklist, checks, faults),
    )


def _share(count: int, of: int) -> Share:
    return Share(count, of, wilson_interval(count, of) if of else None)


def _build_rows(
    checklist: Checklist, checks: Sequence[CheckTally], faults: Sequence[FaultTally]
) -> tuple[CheckRow, ...]:
    rows = []
    for tally in checks:
        check = checklist.check_by_id.get(tally.check_id)
        titles = {fault.id: text_of(fault.title) for fault in check.faults} if check else {}
        found = [
            (titles.get(f.fault, f.fault) if f.fault else NOT_NAMED, f.failed)
            for f in faults
            if f.check_id == tally.check_id
        ]
        rows.append(
            CheckRow(
                check=tally.check_id,
                ask=text_of(check.ask) if check else tally.check_id,
                part=tally.part,
                severity=tally.severity,
                inspected=tally.inspected,
                failed=tally.failed,
                doubtful=tally.doubtful,
                faults=tuple(sorted(found, key=lambda item: (-item[1], item[0]))),
            )
        )
    rows.sort(key=lambda row: (-row.failed, SEVERITIES.index(row.severity), row.check))
    return tuple(rows)
