"""Commands for a sceptic: the figures of the pages from counts given by hand. All print JSON."""

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli.csv_table import check_rate, print_answer, read_table
from qcapp.cli.numbers import quote, read_count, read_word
from qcapp.cli.options import AlwaysJson, Level, Lot, SampleSize, count_option
from qcapp.errors import BadInput
from qcapp.stats.compare import find_risk_ratio, fisher_exact, newcombe_difference
from qcapp.stats.learning import fit_learning_curve
from qcapp.stats.operating import bad_stoves_bound, operating_curve
from qcapp.stats.proportion import wilson_interval
from qcapp.stats.sampling import draw_positions, get_plan
from qcapp.stats.shrinkage import shrink_rates

# Every pair of mean and spread that the counts allow is weighed for every person, and every stove.
MAX_PEOPLE, MAX_OF_ONE = 1000, 100_000
# A point for each number of bad stoves is printed.
MAX_POINTS = 100_000


def _read_of_one(text: str) -> int:
    return read_count(text, MAX_OF_ONE)


RATES = {"name": read_word, "faults": _read_of_one, "inspected": _read_of_one}


def _read_flag(text: str) -> int:
    if text not in ("0", "1"):
        raise ValueError("neither 0 nor 1")
    return int(text)


def rate(
    faults: Annotated[int, count_option("--faults", "stoves with a fault")],
    inspected: Annotated[int, count_option("--inspected", "stoves inspected")],
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """A rate with its interval (Wilson 1927)."""
    interval = wilson_interval(faults, inspected, level)
    print_answer(
        {
            "faults": faults,
            "inspected": inspected,
            "rate": faults / inspected,
            "lower": interval.low,
            "upper": interval.high,
            "method": "wilson",
            "level": level,
        }
    )


def compare(
    a: Annotated[str, typer.Option(help="faults/inspected of the first group, such as 14/80")],
    b: Annotated[str, typer.Option(help="faults/inspected of the second group, such as 6/240")],
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """Two rates: difference (Newcombe 1998), Fisher's exact p, risk ratio (log interval)."""
    counts = (*_read_counts("--a", a), *_read_counts("--b", b))
    difference = newcombe_difference(*counts, level)
    print_answer(
        {
            "difference": difference.value,
            "lower": difference.low,
            "upper": difference.high,
            "p": fisher_exact(*counts),
            "risk_ratio": find_risk_ratio(*counts, level),
            "level": level,
        }
    )


def rank(
    file: Annotated[Path, typer.Argument(help="CSV with the columns name, faults, inspected")],
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """Rates allowing for chance: each is drawn towards the common rate (beta-binomial)."""
    rows = read_table(file, RATES, check=check_rate, max_rows=MAX_PEOPLE)
    shrunk = shrink_rates([(row["faults"], row["inspected"]) for row in rows], level)
    people = [
        {"name": row["name"], **asdict(person)}
        for row, person in zip(rows, shrunk.people, strict=True)
    ]
    print_answer(
        {
            "mean": shrunk.mean,
            "precision": shrunk.precision,
            "is_pooled": shrunk.is_pooled,
            "level": level,
            "people": people,
        }
    )


def learn(
    file: Annotated[Path, typer.Argument(help="CSV with the columns made_before, failed (0 or 1)")],
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """Learning curve: logit of the rate on log(1 + stoves made before), Firth-penalised."""
    rows = read_table(file, {"made_before": read_count, "failed": _read_flag})
    curve = fit_learning_curve(
        [row["made_before"] for row in rows], [row["failed"] for row in rows], level
    )
    print_answer(
        {
            "intercept": curve.intercept,
            "slope": curve.slope,
            "is_clear": curve.is_clear,
            "inspected": curve.inspected,
            "failed": curve.failed,
            "level": level,
        }
    )


def plan(
    lot: Lot,
    aql: Annotated[str, typer.Option(help="acceptance quality limit, percent, one of the table's")],
    level: Annotated[str, typer.Option(help="inspection level: S-1 to S-4, I, II or III")] = "II",
    regime: Annotated[str, typer.Option(help="normal, tightened or reduced")] = "normal",
    as_json: AlwaysJson = True,
) -> None:
    """Single sampling plan of a batch (MIL-STD-105E, Tables I and II)."""
    found = get_plan(lot, aql, level, regime)
    print_answer(
        {
            "letter": found.letter,
            "n": found.n,
            "ac": found.ac,
            "re": found.re,
            "every_stove": found.every_stove,
        }
    )


def sample(
    lot: Lot,
    n: SampleSize,
    seed: Annotated[str, typer.Option(help="as the plan or the summary names it")],
    prefix: Annotated[str, typer.Option(help="what the batch's serials begin with")] = "",
    as_json: AlwaysJson = True,
) -> None:
    """The serials of a sample in the order drawn: places 1 to lot ranked by SHA-256 of
    "seed:place".
    """
    from qcapp.reports.plan import name_serial

    serials = [name_serial(prefix, place) for place in draw_positions(lot, n, seed)]
    print_answer({"lot": lot, "n": n, "seed": seed, "serials": serials})


def curve(
    lot: Lot,
    n: SampleSize,
    ac: Annotated[int, count_option("--ac", "accepted with at most this many faulty stoves")],
    as_json: AlwaysJson = True,
) -> None:
    """Chance that a batch is accepted for each number of faulty stoves in it (exact,
    hypergeometric).
    """
    if lot > MAX_POINTS:
        raise BadInput(
            f"a curve of {lot} stoves has more than {MAX_POINTS:,} points",
            "--lot",
            f"give at most {MAX_POINTS:,}; a larger batch is judged nearly as one of these",
        )
    print_answer({"lot": lot, "n": n, "ac": ac, "points": operating_curve(lot, n, ac)})


def bound(
    lot: Lot,
    n: Annotated[int, count_option("--n", "stoves inspected")],
    found: Annotated[int, count_option("--found", "faulty ones among these")],
    level: Level = 0.95,
    as_json: AlwaysJson = True,
) -> None:
    """The most faulty stoves that may be left among those not inspected (exact, one-sided)."""
    print_answer(
        {
            "lot": lot,
            "n": n,
            "found": found,
            "level": level,
            "bad_left_at_most": bad_stoves_bound(lot, n, found, level),
        }
    )


def _read_counts(name: str, text: str) -> tuple[int, int]:
    faults, _, inspected = text.partition("/")
    try:
        return read_count(faults.strip()), read_count(inspected.strip())
    except ValueError as error:
        raise BadInput(
            f"{quote(text)} is not faults/inspected, each a {str(error).removeprefix('no ')}",
            name,
            "write it as 14/80",
        ) from error
