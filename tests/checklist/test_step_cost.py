"""Rework minutes of a step: optional, whole, and absent from the compiled shape where not set."""

import shutil
from pathlib import Path

import pytest

from qcapp.checklist.load import find_errors, load_checklist

SHIPPED = Path(__file__).resolve().parents[2] / "checklists"


def write(tmp_path, value):
    text = (SHIPPED / "finished-stove.yaml").read_text(encoding="utf-8")
    step = "{id: cut-door-opening, trade: metalwork, "
    path = tmp_path / "finished-stove.yaml"
    path.write_text(text.replace(step, f"{step}rework_minutes: {value}, "), encoding="utf-8")
    shutil.copy(SHIPPED / "round-stove.svg", tmp_path)
    shutil.copytree(SHIPPED / "pictures", tmp_path / "pictures")
    return path


def test_minutes_are_read_and_compiled(tmp_path):
    checklist = load_checklist(write(tmp_path, 40))
    compiled = {step["id"]: step for step in checklist.compiled()["steps"]}
    assert compiled["cut-door-opening"]["rework_minutes"] == 40
    assert "rework_minutes" not in compiled["hang-door"]
    assert type(checklist).from_compiled(checklist.compiled()).hash == checklist.hash


@pytest.mark.parametrize("value", ["0", "-5", "2.5", "long"])
def test_minutes_that_cannot_be_are_named(tmp_path, value):
    (error, *_rest) = find_errors(write(tmp_path, value))
    assert "rework_minutes" in str(error)
