"""Rows of readings and passes: who is in which, what a signal says, and when nothing is said."""

import pytest

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.observations import CheckObservation
from qcapp.reports.pass_charts import list_pass_charts
from qcapp.reports.pass_drift import judge_passes
from qcapp.reports.passes import build_passes
from qcapp.reports.reading_charts import list_reading_charts
from qcapp.reports.reading_drift import judge_series
from qcapp.reports.row_groups import Replacement, Template
from qcapp.reports.series import build_series
from tests.builders import build_small_checklist

CHECKLIST = build_small_checklist()
HISTORY = ChecklistHistory({CHECKLIST.hash: CHECKLIST}, {})
WIDTH, STEP = "door-opening-width", "cut-door-opening"


def look(n, value, artisan="A01", failed=False, stage="finished"):
    return CheckObservation(
        f"{stage}/S{n:03}",
        stage,
        "medium",
        f"B{n // 10}",
        f"2026-{9 + n // 28:02}-{1 + n % 28:02}T08:00:00.000Z",
        CHECKLIST.id,
        CHECKLIST.hash,
        WIDTH,
        STEP,
        artisan,
        failed,
        value,
    )


def series_of(looks, templates=(), replacements=()):
    return {row.group.id: row for row in build_series(looks, HISTORY, templates, replacements, {})}


def test_nothing_is_said_before_the_minimum_count_and_at_once_from_it_on():
    values = [100, 101, 99, 100, 101, 100, 99, 100] + [110] * 12
    for count, state in ((19, "too few"), (20, "signal")):
        row = judge_series(
            series_of([look(n, value) for n, value in enumerate(values[:count])])["A01"],
            run=100,
            min_count=20,
        )
        assert (row.state, row.signal is not None) == (state, state == "signal")


def test_sign_carries_its_counts_means_and_day():
    values = [100, 101, 99, 100, 101, 100, 99, 100] * 3 + [103] * 20
    row = judge_series(
        series_of([look(n, value, failed=n >= 40) for n, value in enumerate(values)])["A01"],
        run=1000,
        min_count=20,
    )
    signal = row.signal
    assert (signal.direction, signal.began[0]) == ("larger", "finished/S024")
    assert signal.before == (24, 100.0) and signal.since == (20, 103.0) and signal.failed_since == 4
    assert (
        signal.change.value == pytest.approx(3, abs=0.05)
        and signal.change.low > 2
        and signal.stoves_until_seen < 20
    )


def test_template_puts_its_users_together_and_an_only_user_stands_once():
    looks = [look(n, 100 + n // 3 % 3, artisan=f"A0{1 + n % 3}") for n in range(30)]
    shared, own = (
        Template("T1", STEP, "Template", frozenset({"A01", "A02"})),
        Template("T2", STEP, "Own", frozenset({"A03"})),
    )
    found = series_of(looks, [shared, own])
    assert {key: len(row.points) for key, row in found.items()} == {
        "T1": 20,
        "T2": 10,
        "A01": 10,
        "A02": 10,
    }


def test_load_row_takes_every_load_of_the_kiln():
    looks = [look(n, 100 + n % 3, artisan="A12", stage="firing") for n in range(10)]
    assert set(series_of(looks)) == {"all"}


def test_replacement_begins_anew_only_for_those_it_names():
    looks = [look(n, 100 + n // 2 % 3, artisan=f"A0{1 + n % 2}") for n in range(30)]
    found = series_of(
        looks, replacements=[Replacement("R", STEP, frozenset({"A01"}), "2026-09-15", "")]
    )
    assert (
        found["A01"].restarted_on == "2026-09-15"
        and min(point.captured_at for point in found["A01"].points) >= "2026-09-15"
    )
    assert found["A02"].restarted_on is None and len(found["A02"].points) == 15


def test_stove_with_two_failed_checks_of_a_step_counts_once():
    twice = [
        look(1, 105.0, failed=True),
        CheckObservation(
            "finished/S001",
            "finished",
            "medium",
            "B0",
            "2026-09-02T08:00:00.000Z",
            CHECKLIST.id,
            CHECKLIST.hash,
            "other",
            STEP,
            "A01",
            True,
            None,
        ),
    ]
    (row,) = [row for row in build_passes(twice, HISTORY, (), (), {}) if row.step.id == STEP]
    assert [point.failed for point in row.points] == [True]


def test_faults_that_rise_are_told_and_the_first_forty_only_say_what_is_usual():
    failed = [n % 20 == 0 for n in range(40)] + [n % 2 == 0 for n in range(40)]
    rows = build_passes(
        [look(n, None, failed=bad) for n, bad in enumerate(failed)], HISTORY, (), (), {}
    )
    row = judge_passes(rows[0], run=1000, min_count=20)
    assert row.usual == (2, 40) and row.state == "signal" and row.signal.direction == "more faults"
    assert row.plan.usual_run >= 1000
    assert (
        judge_passes(
            build_passes([look(n, None, failed=True) for n in range(40)], HISTORY, (), (), {})[0],
            run=1000,
            min_count=20,
        ).state
        == "too few"
    )


def test_limits_of_the_charts_come_from_the_readings_before_the_change():
    values = [100, 101, 99, 100, 101, 100, 99, 100] * 3 + [103] * 20
    row = judge_series(
        series_of([look(n, value) for n, value in enumerate(values)])["A01"], run=1000, min_count=20
    )
    single, ranges, ewma, sums = list_reading_charts(row)
    assert single.centre == 100.0 and single.began == 24 and 24 + 8 in single.flags
    assert len(ranges.values) == len(values) - 1 and max(ewma.flags) == len(values) - 1
    assert sums.highs[0] == row.limit and row.signal.seen[0].endswith(
        single.labels[min(sums.flags)].split(",")[0]
    )


def test_rates_by_batch_keep_their_counts():
    failed = [n % 10 == 0 for n in range(60)]
    row = judge_passes(
        build_passes(
            [look(n, None, failed=bad) for n, bad in enumerate(failed)], HISTORY, (), (), {}
        )[0],
        run=1000,
        min_count=20,
    )
    rates, *_laney, points = list_pass_charts(row)
    assert rates.labels[0] == "B0: 1 of 10" and rates.values[0] == 10 and len(points.values) == 20
