"""A test that holds a time against a number of seconds fails on a slower machine, and on the same
one in a busier hour. Times are held as ratios of two works in one run, or measured by tests/bench.
"""

import ast

import pytest

from tests.frame.sources import list_sources

CLOCKS = ("monotonic", "perf_counter", "process_time", "time")
TESTS = list_sources("test_*.py", "bench")


def reads_clock(side: ast.expr) -> bool:
    """A call of a clock, or what a script says that something took."""
    return any(
        (isinstance(node, ast.Call) and getattr(node.func, "attr", "") in CLOCKS)
        or (isinstance(node, ast.Constant) and node.value in ("took", "ms"))
        or (isinstance(node, ast.Name) and node.id == "took")
        for node in ast.walk(side)
    )


def find_times(source: str) -> list[int]:
    """Lines that assert how a time compares with a plain number or a constant."""
    return [
        compared.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Assert)
        for compared in ast.walk(node.test)
        if isinstance(compared, ast.Compare)
        if any(map(reads_clock, (compared.left, *compared.comparators)))
        if any(
            isinstance(side, ast.Constant) or (isinstance(side, ast.Name) and side.id.isupper())
            for side in (compared.left, *compared.comparators)
        )
    ]


@pytest.mark.parametrize("path", TESTS, ids=lambda path: path.stem)
def test_no_time_is_held_against_a_number(path):
    assert find_times(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "line",
    [
        "assert time.process_time() - began < 2",
        "assert time.monotonic() - began < MOST_SECONDS",
        'assert quantile([one["took"] for one in answers], 0.9) < 500',
        "assert quantile(took, 0.9) < 500",
    ],
)
def test_a_time_is_found(line):
    assert find_times(line) == [1]


def test_a_ratio_and_a_wait_are_no_times():
    for line in ("assert time_work(ours) < 2 * time_work(usual)", "assert time.monotonic() < end"):
        assert find_times(line) == []
