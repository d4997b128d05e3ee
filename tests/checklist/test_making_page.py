"""The guide's page of the making says of every shipped check what the checklist says."""

import re

import pytest

from qcapp.checklist.load import load_checklist
from tests.builders import ROOT
from tests.checklist.test_shipped import FOLDER, STAGES

PAGE = (ROOT / "static" / "guide" / "making.md").read_text(encoding="utf-8")
KEY_POINTS = "## Key points of the steps"
# Numbers and words that the trade tells of the making: each stands among the facts.
TOLD = (
    "master piece",
    "due date",
    "heavier sheet",
    "rolled round a wire",
    "folded twice",
    "without play",
    "brace strip",
    "is its pivot",
    "after the door hangs",
    "right angle",
    "rolled twice",
    "flattened",
    "two rivets are under each rest",
    "air gap",
    "slight angle",
    "shared with a handle",
    "inverted",
    "hammered for the bead",
    "in line",
    "equal distance",
    "three equal tabs",
    "2 to 3 kg",
    "cut and trimmed",
    "lifted from the mould",
    "19 holes",
    "no longer cool",
    "700 to 800",
    "more than six hours",
    "one part cement to four parts sand",
    "thin layer",
    "sunk in level",
    "centred",
    "stiffen",
    "smoothed",
    "cured damp",
    "optional",
    "colour is chosen",
    "free of paint",
    "flush by hand",
)


def read_rows(page: str) -> list[tuple[str, ...]]:
    """(fact, stage, question, basis) of each row of each table."""
    checks = page.partition(KEY_POINTS)[0] + page.partition(KEY_POINTS)[2].partition("\n## ")[2]
    rows = re.findall(r"^\| (.+) \| (.+) \| (.+) \| (.+) \|$", checks, re.MULTILINE)
    return [row for row in rows if row[1] != "stage"]


def list_wanted() -> list[tuple[str, str, str]]:
    """(stage, question, basis) of every shipped check."""
    checklists = [load_checklist(FOLDER / f"{name}.yaml") for name in STAGES]
    return [
        (checklist.title["en"], check.ask["en"], check.basis)
        for checklist in checklists
        for check in checklist.checks
    ]


def find_differences(page: str) -> list[tuple[str, str, str]]:
    """Rows that the page lacks, has twice, or has without a check."""
    told, wanted = [row[1:] for row in read_rows(page)], list_wanted()
    assert len(wanted) == len(set(wanted))
    return [row for row in {*told, *wanted} if told.count(row) != wanted.count(row)]


def test_each_check_has_its_row_with_its_basis_and_no_other() -> None:
    assert find_differences(PAGE) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("| Latch meets its receiver |", "| Latch finds its receiver |"),
        ("| Bedding | Measures of sand |", "| Cladding | Measures of sand |"),
        ("plus or minus 0.25 is a placeholder |", "plus or minus 0.25 |"),
    ],
)
def test_a_row_that_no_longer_fits_its_check_is_found(old: str, new: str) -> None:
    assert PAGE.count(old) == 1
    assert len(find_differences(PAGE.replace(old, new))) == 2


def test_every_fact_told_of_the_making_is_among_them() -> None:
    facts = " ".join(row[0] for row in read_rows(PAGE)).lower()
    assert [words for words in TOLD if words not in facts] == []


def list_caught() -> list[str]:
    """A row of the guide for each earlier stage that a check names."""
    checklists = [load_checklist(FOLDER / f"{name}.yaml") for name in STAGES]
    by_stage = {one.stage: one for one in checklists}
    return [
        f"| {one.title['en']}: {check.ask['en']} | {by_stage[stage].title['en']} "
        f"| {'; '.join(by_stage[stage].check_by_id[name].ask['en'] for name in names)} |"
        for one in checklists
        for check in one.checks
        for stage, names in (check.should_be_caught_by or {}).items()
    ]


def test_what_an_earlier_stage_should_have_caught_stands_in_its_own_table() -> None:
    part = PAGE.partition("## What an earlier stage should have caught")[2].partition("\n## ")[0]
    told = [line for line in part.splitlines() if line.startswith("| ")][1:]
    assert len(told) == 25 and told == list_caught()


def test_each_key_point_stands_in_its_table_with_its_basis() -> None:
    part = PAGE.partition(KEY_POINTS)[2].partition("\n## ")[0]
    told = [line for line in part.splitlines() if line.startswith("| ")][1:]
    wanted = [
        f"| {one.title['en']} | {step.title['en']} | {point.do['en']} | {point.why['en']} "
        "| common practice, no source |"
        for one in (load_checklist(FOLDER / f"{name}.yaml") for name in STAGES)
        for step in one.steps
        for point in step.key_points
    ]
    assert sorted(told) == sorted(wanted) and len(told) > 25
