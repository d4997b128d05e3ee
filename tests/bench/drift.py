"""How often the page about drift speaks when nothing changes, and how soon when something does.

Yards are drawn from written-down figures with seeded random numbers and go through the same report
as the page: six artisans, two of them with one template, six measured checks and six checks by eye.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from qcapp.checklist.history import ChecklistHistory
from qcapp.checklist.model import Checklist
from qcapp.inspection.observations import CheckObservation
from qcapp.reports.drift import STOVES_PER_FALSE_SIGNAL, build_drift_report
from qcapp.reports.passes import build_passes
from qcapp.reports.reading_drift import SLACK
from qcapp.reports.row_groups import Template
from qcapp.reports.series import build_series
from qcapp.stats.run_rules import nelson_signals
from qcapp.stats.self_starting import find_drift, find_limit, score_readings
from tests.builders import build_small_checklist

ARTISANS = [f"A{n:02}" for n in range(1, 7)]
SHARED = frozenset(ARTISANS[:2])
MEASURED, BY_EYE = 6, 6
FAULT_RATE = 0.02
BEGINS = 90  # stoves of the template's row before the change
ROUND = 1.0  # the tool's step

Shift = Callable[[int], float]


@dataclass(frozen=True)
class Yard:
    """spread: standard deviation of a reading before it is read off to whole steps. shift: added to
    the first check's readings of the template's stoves, by their number after the beginning; rate:
    of faults there after it; skewed: readings from a gamma distribution of shape 4.
    """

    name: str
    stoves: int
    spread: float = 1.0
    shift: Shift | None = None
    rate: float | None = None
    skewed: bool = False


CLEAN = (
    Yard("nothing changes, 1,200 stoves", 1200),
    Yard("nothing changes, tool step twice the spread", 1200, spread=0.5),
    Yard("nothing changes, skewed readings", 1200, skewed=True),
)
CHANGED = (
    Yard("readings jump by one standard deviation", 600, shift=lambda n: 1.0),
    Yard("readings jump by two standard deviations", 600, shift=lambda n: 2.0),
    Yard("readings creep by 0.05 standard deviations a stove", 600, shift=lambda n: 0.05 * n),
    Yard("faults rise from 2 % to 20 %", 600, rate=0.20),
)


@dataclass(frozen=True)
class Score:
    """false_per_1000: signals where nothing changed, for 1,000 stoves. found: share of runs in which
    the changed row spoke; stoves: median number of its stoves after the change until then; off: 5
    and 95 % points of (named beginning minus true one), in stoves of the row.
    """

    yard: str
    runs: int
    false_per_1000: float
    found: float | None
    stoves: float | None
    off: tuple[float, float] | None


def score_yard(yard: Yard, runs: int, seed: int) -> Score:
    false, waits, offs = 0, [], []
    for run in range(runs):
        report = _report(yard, np.random.default_rng([seed, run]))
        for row in report.signals:
            key, group, points = _key(row)
            changed = yard in CHANGED and key in _touched(yard) and group.artisans <= SHARED
            if changed and group.kind == "template":
                seen, began = points.index(row.signal.seen[0]), points.index(row.signal.began[0])
                waits.append(seen - BEGINS + 1)
                offs.append(began - BEGINS)
            false += not changed
    found = [wait for wait in waits if wait > 0]
    return Score(
        yard.name,
        runs,
        1000 * false / runs / yard.stoves,
        len(found) / runs if yard in CHANGED else None,
        float(np.median(found)) if found else None,
        tuple(float(end) for end in np.percentile(offs, [5, 95])) if offs else None,
    )


def _touched(yard: Yard) -> set[str]:
    return {"m0", "sm0"} if yard.shift else {"sm0"}


def _key(row):
    if hasattr(row, "series"):
        return row.series.check.id, row.series.group, [point.stove for point in row.series.points]
    return row.passes.step.id, row.passes.group, [point.stove for point in row.passes.points]


def _build_checklist() -> Checklist:
    small = build_small_checklist()
    width, step = small.check_by_id["door-opening-width"], small.steps[0]
    names = [f"sm{n}" for n in range(MEASURED)] + [f"se{n}" for n in range(BY_EYE)]
    checks = [width.model_copy(update={"id": f"m{n}", "step": f"sm{n}"}) for n in range(MEASURED)]
    steps = [step.model_copy(update={"id": name}) for name in names]
    fields = {name: getattr(small, name) for name in Checklist.model_fields}
    return Checklist(**{**fields, "checks": tuple(checks), "steps": tuple(steps)})


def _report(yard: Yard, rng: np.random.Generator):
    looks, history = _draw(yard, rng), ChecklistHistory({"bench": _build_checklist()}, {})
    facts = ([Template("T1", "sm0", "Template", SHARED)], [], {})
    return build_drift_report(
        build_series(looks, history, *facts), build_passes(looks, history, *facts), min_count=20
    )


def _draw(yard: Yard, rng: np.random.Generator) -> list[CheckObservation]:
    readings = (
        rng.gamma(4, 0.5, (yard.stoves, MEASURED)) - 2
        if yard.skewed
        else rng.normal(0, 1, (yard.stoves, MEASURED))
    )
    faults = rng.random((yard.stoves, MEASURED + BY_EYE))
    makers = rng.integers(0, len(ARTISANS), yard.stoves)
    looks, shared = [], 0
    for n in range(yard.stoves):
        maker = ARTISANS[makers[n]]
        since = shared - BEGINS if maker in SHARED else -1
        shared += maker in SHARED
        at = f"2026-{1 + n // 100:02}-{1 + n // 4 % 25:02}T{8 + n % 4:02}:00:00.000Z"
        for check in range(MEASURED + BY_EYE):
            is_changed = check == 0 and since >= 0
            rate = yard.rate if is_changed and yard.rate else FAULT_RATE
            value = None
            if check < MEASURED:
                moved = readings[n, check] + (yard.shift(since) if is_changed and yard.shift else 0)
                value = float(np.round(100 + yard.spread * moved) * ROUND)
            step = f"sm{check}" if check < MEASURED else f"se{check - MEASURED}"
            looks.append(
                CheckObservation(
                    f"finished/{n:04}",
                    "finished",
                    "medium",
                    f"B{n // 100}",
                    at,
                    "small-stove",
                    "bench",
                    f"m{check}",
                    step,
                    maker,
                    bool(faults[n, check] < rate),
                    value,
                )
            )
    return looks


def rule_rates(runs: int, seed: int, points: int = 200) -> tuple[float, float]:
    """Share of clean points at which rule 1, and any of Nelson's eight rules,
    is met (known limits).
    """
    first = either = 0
    for run in range(runs):
        signals = nelson_signals(np.random.default_rng([seed, run]).normal(0, 1, points))
        first += sum(signal.rule == 1 for signal in signals)
        either += len({signal.index for signal in signals})
    return first / runs / points, either / runs / points


def row_run_length(run: float, rows: int, seed: int) -> float:
    """Mean readings until a false sign of one row that is set to `run`,
    readings as they come from a normal spread.
    """
    limit, lengths = find_limit(SLACK, run), []
    for row in range(rows):
        values = np.random.default_rng([seed, row]).normal(50, 3, int(12 * run))
        drift = find_drift(score_readings(values, 1e-9), SLACK, limit, 1)
        lengths.append(drift.seen + 1 if drift else len(values))
    return float(np.mean(lengths))


def list_scores(runs: int, seed: int = 20261125) -> list[Score]:
    return [score_yard(yard, runs, seed) for yard in (*CLEAN, *CHANGED)]


def show_scores(runs: int) -> None:
    print(f"promised: {1000 / STOVES_PER_FALSE_SIGNAL:g} false sign in 1,000 stoves")
    print(
        f"| simulated yard ({runs} runs each) | false signals in 1,000 stoves | found | stoves until"
        " found | beginning off by |\n|---|---|---|---|---|"
    )
    for score in list_scores(runs):
        off = (
            f"{score.off[0]:+.0f} to {score.off[1]:+.0f}"
            if score.off and score.found is not None
            else ""
        )
        found = f"{score.found:.0%}" if score.found is not None else ""
        stoves = f"{score.stoves:.0f}" if score.stoves and score.found is not None else ""
        print(
            f"| {score.yard} | {score.false_per_1000:.2f} | {found} | {stoves} | {off} |",
            flush=True,
        )
    print(
        f"one row set to 500 readings between false signals: {row_run_length(500, 10 * runs, 6):.0f}"
    )
    first, either = rule_rates(runs, 5)
    print(
        f"Nelson's rules on clean points: rule 1 {first:.4f} of the points, any of the eight"
        f" {either:.4f}"
    )
