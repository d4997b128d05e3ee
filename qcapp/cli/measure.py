"""Commands for readings from a CSV file: charts, agreement of inspectors, capability. All print
JSON.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import typer

from qcapp.cli.csv_table import Columns, check_rate, print_answer, read_table
from qcapp.cli.numbers import quote, read_count, read_number, read_word
from qcapp.cli.options import (
    AlwaysJson,
    ChartFile,
    ChartKind,
    DecisionLimit,
    Laney,
    Level,
    Sigma,
    Slack,
    Target,
    Weight,
    Width,
    number_option,
)
from qcapp.errors import BadInput
from qcapp.reports.agreement import GivenReading, GivenVerdict, compare_readings, compare_verdicts
from qcapp.stats.attribute_charts import laney_p_chart, p_chart
from qcapp.stats.capability import (
    find_percentile_ppk,
    measure_capability,
    normality_p,
)
from qcapp.stats.chart import Chart
from qcapp.stats.cusum import tabular_cusum
from qcapp.stats.run_rules import nelson_signals
from qcapp.stats.variables_charts import ewma_chart, individuals_chart, moving_range_chart
from qcapp.stats.within_capability import measure_within

KINDS = ("individuals", "p", "ewma", "cusum")
READINGS = {"value": read_number}
COUNTS = {"faults": read_count, "inspected": read_count}
LOOK: Columns = {"stove": read_word, "inspector": read_word}
FEWEST_FOR_NORMALITY = 8
MAX_INSPECTORS, MAX_VERDICTS = 50, 20
# Usual for a CUSUM (NIST/SEMATECH e-Handbook 6.3.2.3): half a standard deviation off, limit at
# five.
SLACK_SIGMAS, DECISION_SIGMAS = 0.5, 5.0


def chart(
    file: ChartFile,
    kind: ChartKind,
    target: Target = None,
    sigma: Sigma = None,
    weight: Weight = 0.2,
    width: Width = 3.0,
    slack: Slack = None,
    decision: DecisionLimit = None,
    laney: Laney = False,
    as_json: AlwaysJson = True,
) -> None:
    """Control chart: centre, limits and points; row numbers (from 1) that are out, and Nelson's
    rules.
    """
    if kind not in KINDS:
        raise typer.BadParameter(f"{quote(kind)} is no kind of chart; say {', '.join(KINDS)}")
    if kind == "p":
        answer = _chart_rates(file, is_laney=laney)
    else:
        values = [row["value"] for row in read_table(file, READINGS)]
        if kind == "individuals":
            answer = _chart_readings(values)
        elif kind == "ewma":
            answer = _chart_averages(values, _fill(values, target, sigma), weight, width)
        else:
            answer = _chart_sums(values, _fill(values, target, sigma), slack, decision)
    print_answer({"kind": kind, **answer})


class Expected(NamedTuple):
    """What readings are compared with: the mean that is wanted, the usual standard deviation."""

    target: float
    sigma: float


def _fill(values: list[float], target: float | None, sigma: float | None) -> Expected:
    """What is not given is taken from the readings."""
    return Expected(
        sum(values) / len(values) if target is None else target,
        individuals_chart(values).spread if sigma is None else sigma,
    )


def _chart_rates(file: Path, *, is_laney: bool) -> dict[str, Any]:
    counts = [
        (row["faults"], row["inspected"]) for row in read_table(file, COUNTS, check=_check_point)
    ]
    return {**_describe((laney_p_chart if is_laney else p_chart)(counts)), "is_laney": is_laney}


def _chart_readings(values: list[float]) -> dict[str, Any]:
    moving = _describe(moving_range_chart(values), is_plain=True)
    return {**_describe(individuals_chart(values)), "moving_range": moving}


def _chart_averages(
    values: list[float], expected: Expected, weight: float, width: float
) -> dict[str, Any]:
    """Exponentially weighted moving averages."""
    found = _describe(ewma_chart(values, *expected, weight, width), is_plain=True)
    return {**expected._asdict(), "weight": weight, "width": width, **found}


def _check_point(row: Mapping[str, Any]) -> None:
    if row["inspected"] < 1:
        raise ValueError("a rate needs at least one inspected stove")
    check_rate(row)


def _describe(found: Chart, *, is_plain: bool = False) -> dict[str, Any]:
    """is_plain: without run rules, which are made for independent points."""
    answer = {
        "n": len(found.points),
        "centre": found.centre,
        "spread": found.spread,
        "points": found.points,
        "out": [row for row, point in enumerate(found.points, 1) if point.is_out],
    }
    signals = [
        {"rule": signal.rule, "row": signal.index + 1} for signal in nelson_signals(found.sigmas)
    ]
    return answer if is_plain else {**answer, "signals": signals}


def _chart_sums(
    values: list[float], expected: Expected, slack: float | None, decision: float | None
) -> dict[str, Any]:
    """Cumulative sums."""
    slack = SLACK_SIGMAS * expected.sigma if slack is None else slack
    decision = DECISION_SIGMAS * expected.sigma if decision is None else decision
    found = tabular_cusum(values, expected.target, slack, decision)
    first = None if found.first_signal is None else found.first_signal + 1
    return {
        **expected._asdict(),
        "slack": slack,
        "decision": decision,
        "n": len(values),
        "above": found.above,
        "below": found.below,
        "signals": [at + 1 for at in found.signals],
        "first_signal": first,
    }


def agree(
    file: Annotated[
        Path,
        typer.Argument(
            help="CSV with the columns stove, inspector, verdict, "
            "or stove, inspector, repeat, value"
        ),
    ],
    lower: Annotated[
        float | None,
        number_option("--lower", "readings: lower limit, for the share of the limits' width"),
    ] = None,
    upper: Annotated[float | None, number_option("--upper", "readings: upper limit")] = None,
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """Whether inspectors agree: kappa of verdicts, or repeatability and reproducibility of
    readings.
    """
    looks: Columns = {**LOOK, "repeat": read_count}
    rows = read_table(
        file,
        {**looks, "value": read_number},
        {**looks, "verdict": read_word},
        {**LOOK, "verdict": read_word},
    )
    _check_variety(rows, file)
    if "value" in rows[0]:
        if (lower is None) != (upper is None):
            raise BadInput("one limit has no width", "--lower, --upper", "give both or none")
        print_answer(
            {
                "of": "readings",
                **vars(
                    compare_readings([GivenReading(**row) for row in rows], lower, upper, level)
                ),
            }
        )
    else:
        given = [GivenVerdict(**{"repeat": 1, **row}) for row in rows]
        print_answer({"of": "verdicts", **vars(compare_verdicts(given, level))})


def _check_variety(rows: list[dict[str, Any]], file: Path) -> None:
    """Every pair of inspectors and of verdicts is looked at, so neither may be many."""
    for column, most in (("inspector", MAX_INSPECTORS), ("verdict", MAX_VERDICTS)):
        found = len({row.get(column) for row in rows})
        if found > most:
            raise BadInput(
                f"{found} different words are more than {most}",
                f"{file} {column}",
                "look whether two columns were mixed up",
            )


def capability(
    file: Annotated[Path, typer.Argument(help="CSV in the order made, with the column value")],
    lower: Annotated[float | None, number_option("--lower", "lower limit")] = None,
    upper: Annotated[float | None, number_option("--upper", "upper limit")] = None,
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """Pp, Ppk with intervals, share outside, p of normality (Anderson-Darling), Ppk by percentiles
    from 100 readings; Cp, Cpk if the readings, in the order made, are stable.
    """
    values = [row["value"] for row in read_table(file, READINGS)]
    found = measure_capability(values, lower, upper, level)
    within = measure_within(values, lower, upper, level)
    can_tell = len(values) >= FEWEST_FOR_NORMALITY and min(values) < max(values)
    print_answer(
        {
            **vars(found),
            "level": level,
            "normality_p": normality_p(values) if can_tell else None,
            "percentile_ppk": find_percentile_ppk(values, lower, upper),
            "within": {
                "s": within.s,
                "is_stable": within.is_stable,
                "signals": [at + 1 for at in within.signals],
                "drift_p": within.drift_p,
                "cp": within.cp,
                "cpk": within.cpk,
            },
        }
    )
