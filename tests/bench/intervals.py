"""How often the intervals of the measuring pages hold what is true, in yards drawn at random.

Beside each stands what the plain interval of the textbooks would have done.
"""

from collections.abc import Iterable
from math import sqrt

import numpy as np

from qcapp.stats.agreement import cohen_kappa, fleiss_kappa
from qcapp.stats.capability import measure_capability
from qcapp.stats.misclassification import correct_rate, find_look_errors
from qcapp.stats.within_capability import measure_within
from tests.reports.test_inspectors import draw_looks, report_of
from tests.stats.test_agreement import draw_pairs
from tests.stats.test_capability import draw_batch
from tests.stats.test_change import list_signals
from tests.stats.test_misclassification import draw_yard

Z = 1.959964


def show_intervals(runs: int) -> None:
    for head, rows in (
        ("kappa of two, or three, inspectors", list_kappas(runs)),
        ("change of a drift, of rows that signal", list_changes(runs)),
        ("stable and drifting batches", list_stability(runs)),
        ("missed, false alarms, corrected rate", list_corrected(runs)),
        ("inspectors named wrongly", list_named(runs // 4)),
    ):
        print(f"\n{head}", flush=True)
        for row in rows:
            print("| " + " | ".join(row) + " |", flush=True)


def percent(hits: Iterable[bool]) -> str:
    return f"{100 * np.mean(list(hits)):.1f} %"


def find_large_sample(table: np.ndarray) -> tuple[float, float] | None:
    """Fleiss, Cohen and Everitt 1969."""
    share = table / table.sum()
    rows, columns, observed = share.sum(1), share.sum(0), float(np.trace(share))
    expected = float(rows @ columns)
    if expected >= 1 - 1e-12:
        return None
    kappa = (observed - expected) / (1 - expected)
    terms = np.eye(2) * (1 - expected) - (rows[None, :] + columns[:, None]).T * (1 - observed)
    inner = (share * terms**2).sum() - (observed * expected - 2 * expected + observed) ** 2
    error = sqrt(max(0.0, float(inner)) / table.sum()) / (1 - expected) ** 2
    return max(-1.0, kappa - Z * error), min(1.0, kappa + Z * error)


def list_kappas(runs: int) -> Iterable[tuple[str, ...]]:
    rng = np.random.default_rng(1)
    for stoves in (10, 20, 60):
        for failing, kappa in ((0.1, 0.8), (0.3, 0.5), (0.3, 0.9), (0.5, 0.97)):
            plain, ours, above = [], [], []
            for table in draw_pairs(rng, stoves, failing, kappa, runs):
                ends, found = find_large_sample(table), cohen_kappa(table.tolist())
                if ends and found.kappa is not None:
                    plain.append(ends[0] <= kappa <= ends[1])
                    ours.append(found.low <= kappa <= found.high)
                    above.append(found.low > kappa)
            name = f"two, {stoves} stoves, {failing:.0%} fail, kappa {kappa}"
            yield name, percent(plain), percent(ours), percent(above)
    for stoves, failing, wrong in ((20, 0.1, 0.1), (20, 0.4, 0.02), (60, 0.4, 0.1)):
        ours, above, kappa = [], [], find_kappa(failing, wrong)
        for _ in range(runs):
            is_bad = rng.random(stoves) < failing
            failed = (is_bad[:, None] ^ (rng.random((stoves, 3)) < wrong)).sum(1)
            found = fleiss_kappa([[f, 3 - f] for f in failed])
            if found.kappa is not None:
                ours.append(found.low <= kappa <= found.high)
                above.append(found.low > kappa)
        name = f"three, {stoves} stoves, {failing:.0%} fail, kappa {kappa:.2f}"
        yield name, "", percent(ours), percent(above)


def find_kappa(failing: float, wrong: float) -> float:
    """True kappa of inspectors who each see a stove wrongly with this chance."""
    said = failing * (1 - wrong) + (1 - failing) * wrong
    by_chance = said**2 + (1 - said) ** 2
    return (1 - 2 * wrong * (1 - wrong) - by_chance) / (1 - by_chance)


def list_changes(runs: int) -> Iterable[tuple[str, ...]]:
    for before, since in ((60, 60), (100, 100), (150, 150)):
        for change in (0.5, 0.75, 1.0, 1.5, 2.0):
            found = list(list_signals(11, before, since, change, runs))
            yield (
                f"{before} before, {since} since, {change} standard deviations",
                f"{100 * len(found) / runs:.0f} %",
                percent(low <= change <= high for _estimate, (low, high) in found),
                percent(one.low <= change <= one.high for one, _plain in found),
            )


def list_stability(runs: int) -> Iterable[tuple[str, ...]]:
    rng = np.random.default_rng(12)
    for name, n, more in (
        ("stable, 30 readings", 30, {}),
        ("stable, 120 readings", 120, {}),
        ("stable, 400 readings", 400, {}),
        ("creeps by 2 standard deviations, 60 readings", 60, {"drift": 2.0}),
        ("creeps by 3 standard deviations, 60 readings", 60, {"drift": 3.0}),
        ("jumps by 1 standard deviation, 120 readings", 120, {"step": 1.0}),
        ("jumps by 2 standard deviations, 60 readings", 60, {"step": 2.0}),
    ):
        rows = [draw_batch(rng, n, **more) for _ in range(runs)]
        within = [measure_within(row, -4, 4) for row in rows]
        overall = np.mean([measure_capability(row, -4, 4).pp.value for row in rows])
        flattering = np.mean([8 / (6 * one.s) for one in within])
        yield (
            name,
            percent(not one.is_stable for one in within),
            f"{overall:.2f}",
            f"{flattering:.2f}",
        )


def list_corrected(runs: int) -> Iterable[tuple[str, ...]]:
    rng = np.random.default_rng(13)
    for rate, seen, common in (
        (0.05, (0.2, 0.01), 0.0),
        (0.1, (0.1, 0.02), 0.0),
        (0.1, (0.4, 0.02), 0.0),
        (0.1, (0.4, 0.02), 0.2),
    ):
        plain, ours, missed, false = [], [], [], []
        for _ in range(runs):
            pairs, first = draw_yard(rng, rate, seen, common=common)
            errors = find_look_errors(pairs)
            expected = first.shape[1] * first.mean() * (1 - first.mean())
            dispersion = max(1.0, first.sum(1).var() / expected)
            found = correct_rate(int(first.sum()), first.size, errors, dispersion=dispersion)
            half = Z * sqrt(first.mean() * (1 - first.mean()) / first.size)
            plain.append(abs(first.mean() - rate) <= half)
            if found is not None:
                ours.append(found.low <= rate <= found.high)
                missed.append(errors.missed_share.low <= seen[0] <= errors.missed_share.high)
                false.append(errors.false_share.low <= seen[1] <= errors.false_share.high)
        together = "faults come together on a stove" if common else "faults fall singly"
        name = f"{rate:.0%} of steps bad, {seen[0]:.0%} missed, {seen[1]:.0%} false, {together}"
        yield name, percent(plain), percent(ours), percent(missed), percent(false)


def list_named(runs: int) -> Iterable[tuple[str, ...]]:
    rng = np.random.default_rng(14)
    for name, more in (
        ("both see the same, makers shared evenly", {}),
        (
            "both see the same, one has the weaker makers",
            {"share": lambda m: 0.9 if m < 3 else 0.1},
        ),
        ("one sees twice as much", {"strict": 2.0}),
        ("one sees three times as much", {"strict": 3.0}),
    ):
        found = [report_of(list(draw_looks(rng, **more))).differing for _ in range(runs)]
        yield name, percent(bool(rows) for rows in found)
