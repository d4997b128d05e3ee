"""Line pictures of how a check is done: named in the checklist, looked at when it is read,
shown by the phone.
"""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from qcapp.checklist.drawing import MAX_PICTURE_BYTES
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist, list_shown
from tests.checklist.small import YAML, write_small

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "checklists"
PICTURES = sorted((FOLDER / "pictures").glob("*.svg"))
CHECKLISTS = [load_checklist(path) for path in sorted(FOLDER.glob("*.yaml"))]
HOW, NAMED = "how: {en: By hand.}", "how: {en: By hand.}\n    picture: by-hand"
LINE = 1 + YAML[: YAML.index(HOW)].count("\n") + 1
OPEN = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 120 80">'
GOOD = f'{OPEN}<path d="M0 0h9"/></svg>'
MAX_SHIPPED_BYTES = 1500


def write(folder: Path, svg: str | None, named: str = NAMED) -> Path:
    (folder / "pictures").mkdir(exist_ok=True)
    if svg is not None:
        (folder / "pictures" / "by-hand.svg").write_text(svg, encoding="utf-8")
    return write_small(folder, (HOW, named))


def test_picture_is_named_in_the_compiled_check_and_found_among_what_shows_it(
    tmp_path: Path,
) -> None:
    checklist = load_checklist(write(tmp_path, GOOD))
    compiled = checklist.compiled()
    assert [check.get("picture") for check in compiled["checks"]] == ["by-hand", *[None] * 5]
    assert "picture" not in compiled["checks"][1]
    assert list_shown(compiled) == {"small.svg", "pictures/by-hand.svg"}
    assert Checklist.from_compiled(compiled).hash == checklist.hash


def test_checklist_without_pictures_has_the_hash_it_always_had(tmp_path: Path) -> None:
    """Published before pictures existed: a new key in it would stop the server at its start."""
    checklist = load_checklist(write_small(tmp_path))
    assert checklist.hash == "6def72c42bf7638e6177f37f3150442c83cd4426fa1edd79ac41a493135e76bb"


def test_another_drawing_of_the_same_picture_is_the_same_checklist(tmp_path: Path) -> None:
    before = load_checklist(write(tmp_path, GOOD)).hash
    assert load_checklist(write(tmp_path, GOOD.replace("h9", "v9"))).hash == before
    assert load_checklist(write_small(tmp_path)).hash != before


@pytest.mark.parametrize(
    ("svg", "says"),
    [
        (None, "cannot be read"),
        ("<svg", "not well-formed"),
        ("<html/>", "not an SVG"),
        (f"{OPEN}<script>1</script></svg>", "contains <script>"),
        ('<svg onload="1"/>', "contains <svg> without"),
        (f'{OPEN}<g onload="1"/></svg>', "contains onload"),
        (f'{OPEN}<use href="other.svg#a"/></svg>', "contains href"),
        (f'{OPEN}<path fill="url(https://example.org/a)"/></svg>', "contains fill"),
        (f"{OPEN}<!--{'x' * MAX_PICTURE_BYTES}--></svg>", "larger than"),
    ],
)
def test_picture_that_cannot_be_shown_is_told_with_file_line_and_key(
    tmp_path: Path, svg: str | None, says: str
) -> None:
    (error,) = find_errors(write(tmp_path, svg))
    assert (error.file, error.line, error.key) == ("small.yaml", LINE, "checks.swing.picture")
    assert says in error.what and "by-hand.svg" in error.what and error.todo


@pytest.mark.parametrize("name", ["../small", "By-Hand", "by-hand.svg", "5"])
def test_name_that_is_no_picture_is_refused(tmp_path: Path, name: str) -> None:
    (error,) = find_errors(write(tmp_path, GOOD, f"how: {{en: By hand.}}\n    picture: {name}"))
    assert (error.line, error.key) == (
        LINE,
        "checks.swing.picture",
    ) and "small letters with hyphens" in error.what


@pytest.mark.parametrize("checklist", CHECKLISTS, ids=lambda checklist: checklist.id)
def test_every_shipped_check_has_its_picture(checklist: Checklist) -> None:
    assert [check.id for check in checklist.checks if check.picture is None] == []


def test_every_shipped_picture_is_used() -> None:
    assert {path.stem for path in PICTURES} == {
        check.picture for checklist in CHECKLISTS for check in checklist.checks
    }


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_shipped_picture_is_few_strokes_in_ink_and_clay(path: Path) -> None:
    clay = re.search(
        r"--clay: (#[0-9a-f]{6})",
        (ROOT / "static" / "phone" / "css" / "phone.css").read_text(encoding="utf-8"),
    )[1]
    assert path.stat().st_size <= MAX_SHIPPED_BYTES
    root = ElementTree.parse(path).getroot()
    assert root.get("viewBox") == "0 0 120 80"
    (accent,) = [group for group in root if group.get("class") == "clay"]
    for element in root.iter():
        assert element.tag.rpartition("}")[2] in {"svg", "g", "path", "circle"}, (
            "no words: they would need every language"
        )
        allowed = {"none", "currentColor"} if element not in list(accent.iter()) else {"none", clay}
        assert {element.get("fill", "none"), element.get("stroke", "none")} <= allowed
        assert not {"style", "id"} & set(element.attrib)
