"""Which earlier check should have caught a fault: read, written again, refused where unknown."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from qcapp.checklist.earlier_checks import find_unknown_checks, list_check_ids
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.source import ChecklistErrors
from qcapp.checklist.write import as_source, write_yaml
from qcapp.cli.main import app
from qcapp.settings import Settings
from qcapp.usecases.checklist_draft import draft_from_text
from qcapp.usecases.checklist_editor import get_editor
from qcapp.usecases.open_store import open_store
from tests.builders import NOW
from tests.checklist.small import write_small
from tests.checklist.test_shipped import FOLDER, STAGES

STAGE = ("stage: finished", "stage: finished\nmade_from: [fired-liner]")
HOW = "how: {en: Count.}"
IN_ORDER = [load_checklist(FOLDER / f"{name}.yaml") for name in STAGES]


def named(by: str) -> tuple[str, str]:
    return (HOW, f"{HOW}\n    should_be_caught_by: {by}")


def test_it_is_read_compiled_and_written_again(tmp_path: Path) -> None:
    path = write_small(tmp_path, STAGE, named("{fired-liner: [holes, ring]}"))
    checklist = load_checklist(path)
    assert checklist.check_by_id["holes"].should_be_caught_by == {"fired-liner": ("holes", "ring")}
    compiled = checklist.compiled()
    assert ["should_be_caught_by" in check for check in compiled["checks"]].count(True) == 1
    again = tmp_path / "again.yaml"
    again.write_text(write_yaml(as_source(compiled)), encoding="utf-8")
    assert load_checklist(again).hash == checklist.hash
    assert Checklist.from_compiled(compiled).hash == checklist.hash


@pytest.mark.parametrize(
    ("by", "key", "says"),
    [
        ("{cladding: [holes]}", "checks.holes.should_be_caught_by.cladding", "goes on from no"),
        ("{finished: [holes]}", "checks.holes.should_be_caught_by.finished", "goes on from no"),
        ("{fired-liner: holes}", "checks.holes.should_be_caught_by.fired-liner", "list"),
        ("{fired-liner: [Holes]}", "checks.holes.should_be_caught_by.fired-liner.1", "not an id"),
        ("{fired-liner: []}", "checks.holes.should_be_caught_by.fired-liner", "empty"),
        ("ring", "checks.holes.should_be_caught_by", "keys with values"),
    ],
)
def test_a_wrong_one_is_told_with_its_place(tmp_path: Path, by: str, key: str, says: str) -> None:
    errors = find_errors(write_small(tmp_path, STAGE, named(by)))
    assert [error.key for error in errors] == [key]
    assert says in errors[0].what


def copy_shipped(folder: Path, old: str, new: str) -> Path:
    """All shipped files, the finished stove's changed in one place."""
    for path in FOLDER.iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    (folder / "pictures").symlink_to(FOLDER / "pictures")
    path = folder / "finished-stove.yaml"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_a_check_that_the_stage_does_not_have_is_refused_everywhere(tmp_path: Path) -> None:
    path = copy_shipped(tmp_path, "{cladding: [latch]}", "{cladding: [lach]}")
    assert find_errors(path) == []
    told = CliRunner().invoke(app, ["checklist", "check", str(path)])
    assert told.exit_code == 1
    where = "checks.latch.should_be_caught_by.cladding: stage 'cladding' has no check 'lach'"
    assert where in told.output and "did you mean 'latch'?" in told.output
    settings = Settings(database_url=f"sqlite:///{tmp_path}/y.db", checklists_dir=tmp_path)
    with pytest.raises(ChecklistErrors) as refused:
        open_store(settings, lambda: NOW)
    (error,) = refused.value.errors
    line = path.read_text(encoding="utf-8").splitlines()[error.line - 1]
    assert line.strip() == "- id: latch"


def test_the_lead_cannot_publish_one_either(tmp_path: Path) -> None:
    settings = Settings(database_url=f"sqlite:///{tmp_path}/y.db", checklists_dir=FOLDER)
    editor = get_editor(open_store(settings, lambda: NOW), FOLDER, "finished-stove")
    text = (FOLDER / "finished-stove.yaml").read_text(encoding="utf-8")
    old = load_checklist(FOLDER / "finished-stove.yaml").revision
    text = text.replace(f"revision: {old}", f"revision: {old + 1}").replace(
        "[leg-length, leg-foot]", "[leg-foot]"
    )
    assert draft_from_text(editor, text).errors == ()
    (error,) = draft_from_text(editor, text.replace("[leg-foot]", "[leg-feet]")).errors
    assert error.key == "checks.leg-rock.should_be_caught_by.cladding"


def test_every_one_that_is_shipped_is_there() -> None:
    by_stage = list_check_ids(IN_ORDER)
    for one in IN_ORDER:
        assert find_unknown_checks(one, by_stage, file=one.id, text="") == []
    count = sum(bool(check.should_be_caught_by) for one in IN_ORDER for check in one.checks)
    assert count == 24


def test_what_is_asked_again_under_the_same_name_names_its_earlier_check() -> None:
    for one in IN_ORDER:
        goes_on = {*one.made_from, *one.same_serial}
        for check in one.checks:
            asked = {
                other.stage
                for other in IN_ORDER
                if other.stage in goes_on and check.id in other.check_by_id
            }
            assert asked <= set(check.should_be_caught_by or ()), (one.id, check.id)
