"""What goes wrong: fault kinds of each step, the most frequent first."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import CheckRef, StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.report_counts import FaultCount, StepTally
from qcapp.inspection.terms import FAULTS, NOT_NAMED
from qcapp.reports.groups import People

# Check, fault where one is named, severity.
FaultKey = tuple[str, str | None, str]


@dataclass(frozen=True)
class FaultRow:
    """fault: its id in the check; None where none is named. share, running: of all failed checks
    of the step, as fractions.
    """

    check_id: str
    fault: str | None
    ask: str
    title: str
    severity: str
    failed: int
    share: float
    running: float


@dataclass(frozen=True)
class FaultCarrier:
    """Whose failed checks of a step are the most. artisan: code."""

    artisan: str
    name: str
    failed: int


@dataclass(frozen=True)
class StepFaults:
    """artisans: how many people the failed checks are of; carrier None: of nobody known; makers:
    how many people do the step at all.
    """

    checklist: str
    step: str
    title: str
    failed: int
    rows: tuple[FaultRow, ...]
    artisans: int
    carrier: FaultCarrier | None
    makers: int


def build_step_faults(
    counts: Iterable[FaultCount],
    steps: Mapping[StepRef, Step],
    checks: Mapping[CheckRef, Check],
    people: People,
    tallies: Iterable[StepTally] = (),
) -> list[StepFaults]:
    """By step and checklist, those with the most failed checks first; faults in Pareto order.

    tallies: who did the steps, with or without a fault.
    """
    done = {(one.step, one.artisan) for one in tallies if one.artisan is not None}
    makers = Counter(step for step, _artisan in done)
    by_step: dict[StepRef, dict[FaultKey, int]] = {}
    by_artisan: dict[StepRef, Counter[str]] = {}
    for count in counts:
        if count.artisan:
            by_artisan.setdefault(count.step, Counter())[count.artisan] += count.failed
        faults = by_step.setdefault(count.step, {})
        key = (count.check_id, count.fault, count.severity)
        faults[key] = faults.get(key, 0) + count.failed
    found = [
        replace(
            _build_step(step, faults, steps, checks, _find_carrier(by_artisan.get(step), people)),
            makers=makers[step],
        )
        for step, faults in by_step.items()
    ]
    return sorted(found, key=lambda step: (-step.failed, step.step, step.checklist))


def _build_step(
    ref: StepRef,
    faults: Mapping[FaultKey, int],
    steps: Mapping[StepRef, Step],
    checks: Mapping[CheckRef, Check],
    carriers: tuple[int, FaultCarrier | None],
) -> StepFaults:
    total, running, rows = sum(faults.values()), 0, []
    for (check_id, fault, severity), failed in sorted(
        faults.items(), key=lambda item: (-item[1], str(item[0]))
    ):
        running += failed
        check = checks.get(CheckRef(ref.checklist, check_id))
        rows.append(
            FaultRow(
                check_id=check_id,
                fault=fault,
                ask=text_of(check.ask) if check else check_id,
                title=name_fault(check, fault),
                severity=severity,
                failed=failed,
                share=failed / total,
                running=running / total,
            )
        )
    title = text_of(steps[ref].title) if ref in steps else ref.step
    return StepFaults(*ref, title, total, tuple(rows), *carriers, makers=carriers[0])


def _find_carrier(failed: Counter[str] | None, people: People) -> tuple[int, FaultCarrier | None]:
    """How many people, and who of them has the most."""
    if not failed:
        return 0, None
    code, most = min(failed.items(), key=lambda item: (-item[1], item[0]))
    return len(failed), FaultCarrier(code, people.get(code, {}).get("name", code), most)


def name_fault(check: Check | None, fault: str | None) -> str:
    if fault is None:
        return NOT_NAMED
    titles = {known.id: text_of(known.title) for known in check.faults} if check else {}
    return titles[fault] if fault in titles else FAULTS.get(fault, fault)
