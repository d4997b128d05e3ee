"""What an earlier stage has passed is asked again only with the reason why it can have changed."""

from pathlib import Path

import pytest

from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.write import as_source, write_yaml
from tests.checklist.small import write_small
from tests.checklist.test_shipped import FOLDER, STAGES

LINE = "how: {en: By hand.}"
REASON = "how: {en: By hand.}\n    asked_again: {en: It bends, fr: Elle plie, pt: Dobra}"
IN_ORDER = [load_checklist(FOLDER / f"{name}.yaml") for name in STAGES]


def list_repeats(checklists: list[Checklist]) -> dict[tuple[str, str], bool]:
    """{(checklist, check): whether it says why}, of the checks that an earlier checklist asks too:
    the same id, or the same part for the same step. What is calculated is not asked.
    """
    asked: set[str | tuple[str, str]] = set()
    repeats = {}
    for checklist in checklists:
        own = [check for check in checklist.checks if check.kind != "calculated"]
        for check in own:
            if check.id in asked or (check.part, check.step) in asked:
                repeats[checklist.id, check.id] = check.asked_again is not None
        asked |= {check.id for check in own} | {(check.part, check.step) for check in own}
    return repeats


def test_each_repeated_check_says_why_it_is_asked_again() -> None:
    repeats = list_repeats(IN_ORDER)
    assert len(repeats) > 15
    assert [key for key, says_why in repeats.items() if not says_why] == []


def test_no_reason_stands_where_nothing_is_asked_again() -> None:
    said = {
        (checklist.id, check.id)
        for checklist in IN_ORDER
        for check in checklist.checks
        if check.asked_again
    }
    assert said == set(list_repeats(IN_ORDER))


def test_a_check_put_back_without_a_reason_is_found() -> None:
    finished = IN_ORDER[-1].compiled()
    margin = IN_ORDER[2].check_by_id["grate-edge-margin"].model_dump(mode="json")
    finished["checks"].append(margin | {"picture": None})
    more = [*IN_ORDER[:-1], Checklist.from_compiled(finished)]
    assert [key for key, says_why in list_repeats(more).items() if not says_why] == [
        ("finished-stove", "grate-edge-margin")
    ]


def test_reason_is_read_compiled_and_written_again(tmp_path: Path) -> None:
    checklist = load_checklist(write_small(tmp_path, (LINE, REASON)))
    assert checklist.checks[0].asked_again == {"en": "It bends", "fr": "Elle plie", "pt": "Dobra"}
    compiled = checklist.compiled()
    assert ["asked_again" in check for check in compiled["checks"]] == [True, *[False] * 5]
    again = tmp_path / "again.yaml"
    again.write_text(write_yaml(as_source(compiled)), encoding="utf-8")
    assert load_checklist(again).hash == checklist.hash
    assert Checklist.from_compiled(compiled).hash == checklist.hash


@pytest.mark.parametrize(
    ("reason", "says"), [("It bends", "text by language"), ("{fr: Elle plie}", "English")]
)
def test_reason_without_english_is_told_with_its_line(
    tmp_path: Path, reason: str, says: str
) -> None:
    path = write_small(tmp_path, (LINE, f"{LINE}\n    asked_again: {reason}"))
    (error,) = find_errors(path)
    assert error.key.startswith("checks.swing.asked_again") and says in error.what
