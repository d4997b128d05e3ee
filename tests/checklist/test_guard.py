"""Guard factor and repeatability: from YAML to the lines that a reading is held against."""

import shutil
from decimal import Decimal
from pathlib import Path

import pytest

from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.read_readings import mean_uncertainty

SHIPPED = Path(__file__).resolve().parent.parent.parent / "checklists"
NEW = ("guard_factor", "repeatability", "twice_lower", "twice_upper")


def write(tmp_path, more: str) -> Path:
    text = (SHIPPED / "finished-stove.yaml").read_text(encoding="utf-8")
    before = "decision: simple\n      possible: {lower: 30, upper: 250}"
    assert text.count(before) == 1
    (tmp_path / "finished-stove.yaml").write_text(
        text.replace(before, before.replace("\n", f"\n      {more}\n", 1)), encoding="utf-8"
    )
    shutil.copy(SHIPPED / "round-stove.svg", tmp_path)
    shutil.copytree(SHIPPED / "pictures", tmp_path / "pictures")
    return tmp_path / "finished-stove.yaml"


def limits_of(tmp_path, more):
    checklist = load_checklist(write(tmp_path, more))
    return checklist.check_by_id["door-opening-width"].limits["medium"], checklist


# Source of the factor: ISO 14253-1:2017 (secondary, tests/reference/measurement.json): 0.825 U.
def test_guard_factor_moves_the_lines(tmp_path):
    limits, checklist = limits_of(tmp_path, "guard_factor: 0.825")
    assert (limits.accept_lower, limits.accept_upper) == (97.66, 102.34)
    assert checklist.check_by_id["door-opening-width"].guard_factor == 0.825
    assert (
        "guard_factor" in str(checklist.compiled())
        and type(checklist).from_compiled(checklist.compiled()).hash == checklist.hash
    )


def test_repeatability_draws_the_lines_of_the_mean(tmp_path):
    limits, _ = limits_of(tmp_path, "repeatability: 0.8")
    assert (limits.accept_lower, limits.accept_upper) == (97.8, 102.2)
    assert limits.twice_lower == pytest.approx(
        97 + 0.8 / 2**0.5, abs=1e-6
    ) and limits.twice_upper == pytest.approx(103 - 0.8 / 2**0.5, abs=1e-6)


def test_mean_of_two_halves_only_what_differs_from_reading_to_reading():
    """By hand: U = 5, repeatable part 4, fixed part 3: sqrt(9 + 16 / 2)."""
    assert mean_uncertainty(Decimal(5), Decimal(4)) == pytest.approx(
        Decimal(17).sqrt(), abs=Decimal("1e-6")
    )
    assert mean_uncertainty(Decimal(5), Decimal(0)) == 5


def test_guard_factor_and_repeatability_work_together(tmp_path):
    limits, _ = limits_of(tmp_path, "guard_factor: 0.5\n      repeatability: 0.8")
    assert limits.twice_lower == pytest.approx(97 + 0.4 / 2**0.5, abs=1e-6)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("guard_factor: -1", "not between 0 and 3"),
        ("guard_factor: 3.5", "not between 0 and 3"),
        ("repeatability: 0.9", "not between 0 and the uncertainty"),
    ],
)
def test_what_cannot_be_is_named_with_its_line(tmp_path, more, says):
    path = write(tmp_path, more)
    (error,) = find_errors(path)
    line = 1 + path.read_text(encoding="utf-8").split(more)[0].count("\n")
    assert (
        says in error.what
        and error.line == line
        and error.key.startswith("checks.door-opening-width")
    )


def test_shipped_checklists_keep_their_hash():
    """A revision published before these keys existed must stay what it was:
    no key of theirs is written.
    """
    for path in SHIPPED.glob("*.yaml"):
        text = str(load_checklist(path).compiled())
        assert not [name for name in NEW if f"'{name}'" in text]
