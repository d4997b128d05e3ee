"""What goes wrong: fault kinds of each step, the most frequent first."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from qcapp.checklist.model import Check, Step
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.tallies import FaultCount
from qcapp.inspection.terms import FAULTS, NOT_NAMED

# Check, fault where one is named, severity.
FaultKey = tuple[str, str | None, str]


@dataclass(frozen=True)
class FaultRow:
    """share, running: of all failed checks of the step, as fractions."""

    ask: str
    title: str
    severity: str
    failed: int
    share: float
    running: float


@dataclass(frozen=True)
class StepFaults:
    step: str
    title: str
    failed: int
    rows: tuple[FaultRow, ...]


def build_step_faults(
    counts: Iterable[FaultCount], steps: Mapping[str, Step], checks: Mapping[str, Check]
) -> list[StepFaults]:
    """Steps with the most failed checks first; in each, faults in Pareto order. checks: by id."""
    by_step: dict[str, dict[FaultKey, int]] = {}
    for count in counts:
        faults = by_step.setdefault(count.step, {})
        key = (count.check_id, count.fault, count.severity)
        faults[key] = faults.get(key, 0) + count.failed
    found = [_build_step(step, faults, steps, checks) for step, faults in by_step.items()]
    return sorted(found, key=lambda step: (-step.failed, step.step))


def _build_step(
    step: str,
    faults: Mapping[FaultKey, int],
    steps: Mapping[str, Step],
    checks: Mapping[str, Check],
) -> StepFaults:
    total, running, rows = sum(faults.values()), 0, []
    for (check_id, fault, severity), failed in sorted(
        faults.items(), key=lambda item: (-item[1], str(item[0]))
    ):
        running += failed
        check = checks.get(check_id)
        rows.append(
            FaultRow(
                ask=text_of(check.ask) if check else check_id,
                title=name_fault(check, fault),
                severity=severity,
                failed=failed,
                share=failed / total,
                running=running / total,
            )
        )
    return StepFaults(
        step, text_of(steps[step].title) if step in steps else step, total, tuple(rows)
    )


def name_fault(check: Check | None, fault: str | None) -> str:
    if fault is None:
        return NOT_NAMED
    titles = {known.id: text_of(known.title) for known in check.faults} if check else {}
    return titles[fault] if fault in titles else FAULTS.get(fault, fault)
