"""A check that may be said not to apply: off by default, never where it can hurt someone."""

from pathlib import Path

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.write import as_source, write_yaml
from qcapp.errors import BadInput
from tests.checklist.small import write_small

MINOR = ("severity: major", "severity: major\n    may_not_apply: true")


def test_it_is_read_compiled_and_written_again(tmp_path: Path) -> None:
    checklist = load_checklist(write_small(tmp_path, MINOR))
    compiled = checklist.compiled()
    assert [check.get("may_not_apply") for check in compiled["checks"]].count(True) == 1
    again = tmp_path / "again.yaml"
    again.write_text(write_yaml(as_source(compiled)), encoding="utf-8")
    assert load_checklist(again).hash == checklist.hash


def test_false_is_what_it_is_anyway(tmp_path: Path) -> None:
    plain = load_checklist(write_small(tmp_path))
    said = load_checklist(write_small(tmp_path, (MINOR[0], MINOR[1].replace("true", "false"))))
    assert said.hash == plain.hash


def test_a_critical_check_of_a_foreign_checklist_is_refused(tmp_path: Path) -> None:
    compiled = load_checklist(write_small(tmp_path, MINOR)).compiled()
    for check in compiled["checks"]:
        check["severity"] = "critical"
    with pytest.raises(BadInput):
        Checklist.from_compiled(compiled)


def test_no_shipped_checklist_lets_a_check_be_left_out(checkout: Path) -> None:
    for path in (checkout / "checklists").glob("*.yaml"):
        assert not any(check.may_not_apply for check in load_checklist(path).checks), path.name
