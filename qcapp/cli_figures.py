"""Commands for a sceptic: the figures of the pages from counts given by hand. All print JSON."""

import csv
import json
import math
from collections.abc import Callable
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Annotated

import typer

from qcapp.errors import BadInput
from qcapp.reports.plan import name_serial
from qcapp.stats.compare import find_risk_ratio, fisher_exact, newcombe_difference
from qcapp.stats.learning import fit_learning_curve
from qcapp.stats.operating import bad_stoves_bound, operating_curve
from qcapp.stats.proportion import wilson_interval
from qcapp.stats.sampling import draw_positions, get_plan
from qcapp.stats.shrinkage import shrink_rates

Level = Annotated[float, typer.Option(help="confidence, between 0 and 1")]
AsJson = Annotated[bool, typer.Option("--json", help="these commands always print JSON")]


def add_figure_commands(app: typer.Typer) -> None:
    for command in (rate, compare, rank, learn, plan, sample, curve, bound):
        app.command()(command)


def rate(
    faults: Annotated[int, typer.Option(help="stoves with a fault")],
    inspected: Annotated[int, typer.Option(help="stoves inspected")],
    level: Level = 0.95,
    as_json: AsJson = True,
) -> None:
    """A rate with its interval (Wilson 1927)."""
    interval = wilson_interval(faults, inspected, level)
    _print({"faults": faults, "inspected": inspected, "rate": faults / inspected, "lower": interval.low,
            "upper": interval.high, "method": "wilson", "level": level})


def compare(
    a: Annotated[str, typer.Option(help="faults/inspected of the first group, such as 14/80")],
    b: Annotated[str, typer.Option(help="faults/inspected of the second group, such as 6/240")],
    level: Level = 0.95,
    as_json: AsJson = True,
) -> None:
    """Two rates: difference (Newcombe 1998), Fisher's exact p, risk ratio (log interval)."""
    counts = (*_read_counts("--a", a), *_read_counts("--b", b))
    difference = newcombe_difference(*counts, level)
    _print({"difference": difference.value, "lower": difference.low, "upper": difference.high,
            "p": fisher_exact(*counts), "risk_ratio": find_risk_ratio(*counts, level), "level": level})


def rank(
    file: Annotated[Path, typer.Argument(help="CSV with the columns name, faults, inspected")],
    level: Level = 0.95,
    as_json: AsJson = True,
) -> None:
    """Rates drawn towards the common one as far as chance asks for (beta-binomial)."""
    rows = _read_csv(file, {"name": str, "faults": int, "inspected": int})
    shrunk = shrink_rates([(row["faults"], row["inspected"]) for row in rows], level)
    people = [{"name": row["name"], **asdict(person)} for row, person in zip(rows, shrunk.people, strict=True)]
    _print({"mean": shrunk.mean, "precision": shrunk.precision, "is_pooled": shrunk.is_pooled, "level": level, "people": people})


def learn(
    file: Annotated[Path, typer.Argument(help="CSV with the columns made_before, failed (0 or 1)")],
    level: Level = 0.95,
    as_json: AsJson = True,
) -> None:
    """Learning curve: logit of the rate on log(1 + stoves made before), Firth-penalised."""
    rows = _read_csv(file, {"made_before": int, "failed": int})
    curve = fit_learning_curve([row["made_before"] for row in rows], [row["failed"] for row in rows], level)
    _print({"intercept": curve.intercept, "slope": curve.slope, "is_clear": curve.is_clear,
            "inspected": curve.inspected, "failed": curve.failed, "level": level})


def plan(
    lot: Annotated[int, typer.Option(help="stoves in the batch")],
    aql: Annotated[str, typer.Option(help="acceptance quality limit, percent, one of the table's")],
    level: Annotated[str, typer.Option(help="inspection level: S-1 to S-4, I, II or III")] = "II",
    stage: Annotated[str, typer.Option(help="normal, tightened or reduced")] = "normal",
    as_json: AsJson = True,
) -> None:
    """Single sampling plan of a batch (MIL-STD-105E, Tables I and II)."""
    found = get_plan(lot, aql, level, stage)
    _print({"letter": found.letter, "n": found.n, "ac": found.ac, "re": found.re, "every_stove": found.every_stove})


def sample(
    lot: Annotated[int, typer.Option(help="stoves in the batch")],
    n: Annotated[int, typer.Option(help="stoves in the sample")],
    seed: Annotated[str, typer.Option(help="as the plan or the summary names it")],
    prefix: Annotated[str, typer.Option(help="what the batch's serials begin with")] = "",
    as_json: AsJson = True,
) -> None:
    """The serials of a sample in the order drawn: places 1 to lot ranked by SHA-256 of "seed:place"."""
    serials = [name_serial(prefix, place) for place in draw_positions(lot, n, seed)]
    _print({"lot": lot, "n": n, "seed": seed, "serials": serials})


def curve(
    lot: Annotated[int, typer.Option(help="stoves in the batch")],
    n: Annotated[int, typer.Option(help="stoves in the sample")],
    ac: Annotated[int, typer.Option(help="accepted with at most so many bad ones")],
    as_json: AsJson = True,
) -> None:
    """Chance that a batch is accepted for each number of bad stoves in it (exact, hypergeometric)."""
    _print({"lot": lot, "n": n, "ac": ac, "points": operating_curve(lot, n, ac)})


def bound(
    lot: Annotated[int, typer.Option(help="stoves in the batch")],
    n: Annotated[int, typer.Option(help="stoves inspected")],
    found: Annotated[int, typer.Option(help="bad ones among these")],
    level: Level = 0.95,
    as_json: AsJson = True,
) -> None:
    """Most bad stoves left among those not inspected, by what was found (exact, one-sided)."""
    _print({"lot": lot, "n": n, "found": found, "level": level, "bad_left_at_most": bad_stoves_bound(lot, n, found, level)})


def _read_counts(name: str, text: str) -> tuple[int, int]:
    faults, slash, inspected = text.partition("/")
    if not slash or not faults.strip().isdecimal() or not inspected.strip().isdecimal():
        raise BadInput(f"{text!r} is not faults/inspected", name, "write it as 14/80")
    return int(faults), int(inspected)


def _read_csv(file: Path, columns: dict[str, Callable]) -> list[dict]:
    """The named columns of each row. Raises BadInput with file, line and column."""
    try:
        with file.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream)
            missing = [name for name in columns if name not in (reader.fieldnames or [])]
            if missing:
                raise BadInput(f"no column {', '.join(missing)}", str(file), f"the first line must name {', '.join(columns)}")
            rows = [_read_row(row, columns, f"{file}:{reader.line_num}") for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as trouble:
        raise BadInput(f"the file cannot be read: {trouble}", str(file), "give a CSV file in UTF-8") from trouble
    if not rows:
        raise BadInput("the file has no rows", str(file), "add at least one row below the column names")
    return rows


def _read_row(row: dict, columns: dict[str, Callable], place: str) -> dict:
    found = {}
    for name, read in columns.items():
        try:
            found[name] = read(row[name].strip())
        except (ValueError, AttributeError) as trouble:
            raise BadInput(f"{row[name]!r} is no whole number", f"{place} {name}", "correct this cell") from trouble
    return found


def _print(answer: dict) -> None:
    # Open ends are infinite; JSON has no word for that but null.
    print(json.dumps(_plain(answer), ensure_ascii=False))


def _plain(value):
    if is_dataclass(value):
        return _plain(asdict(value))
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
