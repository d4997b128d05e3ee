"""python3 -m tests.bench [--json FILE]: prints a table of figures.

Bytes and counts are exact and held by tests; times depend on the machine and on what else it
does, so they mean something only against each other in one run.
"""

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.bench.drift import show_scores as show_drift
from tests.bench.intake import measure_intake, measure_memory
from tests.bench.intervals import show_intervals
from tests.bench.load import as_table, measure_load
from tests.bench.pages import list_pages
from tests.bench.phone import measure_phone
from tests.bench.server import measure_server
from tests.bench.summary import measure_summary
from tests.bench.teach import list_scores

PARTS = (
    "phone",
    "teach",
    "summary",
    "load",
    "drift",
    "intake",
    "pages",
    "server",
    "intervals",
    "memory",
)


def main() -> None:
    arguments = read_arguments()
    figures = {}
    if arguments.only in (None, "summary"):
        show_summary()
    show_promises(arguments.only, arguments.runs)
    if arguments.only in (None, "intake"):
        figures |= show_intake()
    if arguments.only == "memory":
        figures |= show_memory(max(arguments.stoves))
    if arguments.only in (None, "server"):
        figures |= show_server()
    if arguments.only in (None, "pages"):
        figures |= show_pages(arguments.stoves)
    if arguments.only in (None, "phone"):
        figures |= show_phone()
    if arguments.only in (None, "load"):
        figures |= show_load(arguments.phones)
    if arguments.json:
        arguments.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


def read_arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python3 -m tests.bench")
    parser.add_argument(
        "--json", type=Path, metavar="FILE", help="also write the figures to a file"
    )
    parser.add_argument(
        "--only",
        choices=PARTS,
        help="one part of the bench",
    )
    parser.add_argument("--runs", type=int, default=500, help="simulated yards of each kind (500)")
    parser.add_argument("--phones", type=int, default=200, help="phones that push at once (200)")
    parser.add_argument(
        "--stoves",
        type=int,
        nargs="+",
        default=[1_000, 100_000],
        help="stoves kept (1000 100000; 1000000 takes a quarter of an hour)",
    )
    return parser.parse_args()


def show_promises(only: str | None, runs: int) -> None:
    """What tests/reports/PROMISES.md holds."""
    if only in (None, "teach"):
        show_teach(runs)
    if only in (None, "drift"):
        # One yard of the drift page takes ten times as long as one of the other.
        show_drift(max(1, runs // 10))
    if only in (None, "intervals"):
        show_intervals(runs)


def show_load(phones: int) -> dict:
    figures = measure_load(phones, inspections=50)
    print(as_table(figures), flush=True)
    return {f"load {name}": value for name, value in asdict(figures).items()}


def show_intake() -> dict:
    figures: dict[str, float] = {}
    for is_signed in (True, False):
        with TemporaryDirectory() as folder:
            found = measure_intake(Path(folder), is_signed=is_signed)
        ratios = {
            name: getattr(found, name)
            for name in ("writing_ratio", "push_ratio", "push_ratio_committed", "a_second")
        }
        signed = "signed" if is_signed else "without signatures"
        print(f"| storing pushes {signed}, against executemany of the same rows | |\n|---|---|")
        for name, value in (asdict(found) | ratios).items():
            shown = f"{value:,.2f}" if isinstance(value, float) else f"{value:,}"
            print(f"| {name.replace('_', ' ')} | {shown} |", flush=True)
            figures[f"intake {signed} {name}"] = value
    return figures


def show_server() -> dict:
    with TemporaryDirectory() as folder:
        found = measure_server(Path(folder))
    show(found)
    return found


def show_memory(inspections: int) -> dict:
    with TemporaryDirectory() as folder:
        found = measure_memory(Path(folder), inspections)
    show(found)
    return found


def show_pages(sizes: list[int]) -> dict:
    figures = {}
    with TemporaryDirectory() as folder:
        for stoves, pages in list_pages(Path(folder), sizes):
            print(f"| page, {stoves:,} stoves kept | ms, median | statements |\n|---|---|---|")
            for name, (ms, statements) in pages.items():
                print(f"| {name} | {ms:.0f} | {statements} |", flush=True)
                figures[f"{name} at {stoves} ms"] = ms
    return figures


def show_summary() -> None:
    with TemporaryDirectory() as folder:
        show(measure_summary(Path(folder)))


def show_teach(runs: int) -> None:
    print(
        f"| simulated yard ({runs} runs each) | planted step first | planted step named | a step"
        " named wrongly | wrong among the named |\n|---|---|---|---|---|"
    )
    for score in list_scores(runs):
        print(
            f"| {score.yard} | {score.named_first:.1%} | {score.named:.1%} | {score.accused:.1%} |"
            f" {score.false_share:.1%} |",
            flush=True,
        )


def show_phone() -> dict:
    figures = measure_phone()
    show(figures)
    return figures


def show(figures: dict[str, float]) -> None:
    width = max(map(len, figures))
    for name, value in figures.items():
        print(f"{name:<{width}}  {value:,.{0 if value >= 10 else 1}f}")


main()
