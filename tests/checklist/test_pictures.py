"""Line pictures of how a check is done, and of what its faults and options look like: named in the
checklist, looked at when it is read, shown by the phone.
"""

import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from qcapp.checklist.drawing import MAX_PICTURE_BYTES
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.pictures import list_shown
from qcapp.checklist.write import as_source, write_yaml
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
# What passes has nothing to mark.
GOOD_ANSWERS = {"crack-none", "crack-hairline-allowed", "note-clear"}


# A fault and an option, without and with a picture, and how errors name its place.
FAULT = "{id: wide, title: {en: Wide}, side: above}"
OPTION = "{id: open, title: {en: Open}, verdict: fail, fault: cracked}"
CHOSEN = {
    "checks.width.faults.wide.picture": FAULT,
    "checks.crack.choice.options.open.picture": OPTION,
}


def write(folder: Path, svg: str | None, named: str = NAMED, plain: str = HOW) -> Path:
    (folder / "pictures").mkdir(exist_ok=True)
    if svg is not None:
        (folder / "pictures" / "by-hand.svg").write_text(svg, encoding="utf-8")
    return write_small(folder, (plain, named))


def name_picture(plain: str, name: str = "by-hand") -> str:
    return plain.replace("title", f"picture: {name}, title")


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


@pytest.mark.parametrize(("key", "plain"), CHOSEN.items(), ids=("fault", "option"))
def test_picture_of_a_fault_or_option_is_compiled_and_written_again(
    tmp_path: Path, key: str, plain: str
) -> None:
    checklist = load_checklist(write(tmp_path, GOOD, name_picture(plain), plain))
    compiled = checklist.compiled()
    chosen = [one for check in compiled["checks"] for one in list_chosen(check) if "picture" in one]
    assert [one["id"] for one in chosen] == [key.split(".")[-2]], "absent where none is named"
    assert list_shown(compiled) == {"small.svg", "pictures/by-hand.svg"}
    assert Checklist.from_compiled(compiled).hash == checklist.hash
    (tmp_path / "small.yaml").write_text(write_yaml(as_source(compiled)), encoding="utf-8")
    assert load_checklist(tmp_path / "small.yaml").hash == checklist.hash


@pytest.mark.parametrize(("svg", "says"), [(None, "cannot be read"), ("<svg", "not well-formed")])
@pytest.mark.parametrize(("key", "plain"), CHOSEN.items(), ids=("fault", "option"))
def test_picture_of_a_fault_or_option_that_cannot_be_shown_is_told_by_its_key(
    tmp_path: Path, key: str, plain: str, svg: str | None, says: str
) -> None:
    (error,) = find_errors(write(tmp_path, svg, name_picture(plain), plain))
    line = 1 + YAML[: YAML.index(plain)].count("\n")
    assert (error.line, error.key) == (line, key)
    assert says in error.what and "by-hand.svg" in error.what and error.todo


def test_one_picture_for_two_faults_of_a_check_is_refused(tmp_path: Path) -> None:
    other = "{id: narrow, title: {en: Narrow}, side: below}"
    path = write(tmp_path, GOOD, name_picture(FAULT), FAULT)
    path.write_text(path.read_text().replace(other, name_picture(other)), encoding="utf-8")
    (error,) = find_errors(path)
    assert error.key == "checks.width.faults.narrow.picture" and "appears twice" in error.what


def list_chosen(check: dict[str, Any]) -> list[dict[str, Any]]:
    return [*check["faults"], *check.get("options", ())]


@pytest.mark.parametrize("checklist", CHECKLISTS, ids=lambda checklist: checklist.id)
def test_every_shipped_check_fault_and_option_has_its_picture(checklist: Checklist) -> None:
    assert [
        (check["id"], one["id"])
        for check in checklist.compiled()["checks"]
        for one in (check, *list_chosen(check))
        if "picture" not in one
    ] == []


def test_every_shipped_picture_is_used() -> None:
    used = {name for checklist in CHECKLISTS for name in list_shown(checklist.compiled())}
    assert {f"pictures/{path.name}" for path in PICTURES} == {
        name for name in used if name.startswith("pictures/")
    }


def list_shapes(name: str) -> list[tuple[str, ...]]:
    """What is drawn, however it is written: colours, spaces and order are not what tells apart."""
    root = ElementTree.parse(FOLDER / "pictures" / f"{name}.svg").getroot()
    return sorted(
        (
            element.tag,
            *(
                f"{key}={re.sub(r'[ ,]+', ' ', value).strip()}"
                for key, value in sorted(element.attrib.items())
                if key not in {"stroke", "class", "id"}
            ),
        )
        for element in root.iter()
        if element.tag.rpartition("}")[2] not in {"svg", "g"}
    )


@pytest.mark.parametrize("checklist", CHECKLISTS, ids=lambda checklist: checklist.id)
def test_pictures_that_are_chosen_from_are_unlike(checklist: Checklist) -> None:
    for check in checklist.compiled()["checks"]:
        for group in (check["faults"], check.get("options", [])):
            shapes = [list_shapes(one["picture"]) for one in group]
            alike = [
                one["id"] for one, own in zip(group, shapes, strict=True) if shapes.count(own) > 1
            ]
            assert alike == [], check["id"]
            assert list_shapes(check["picture"]) not in shapes, check["id"]


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_shipped_picture_is_few_strokes_in_ink_and_clay(path: Path) -> None:
    clay = re.search(
        r"--clay: (#[0-9a-f]{6})",
        (ROOT / "static" / "phone" / "css" / "phone.css").read_text(encoding="utf-8"),
    )[1]
    assert path.stat().st_size <= MAX_SHIPPED_BYTES
    root = ElementTree.parse(path).getroot()
    assert root.get("viewBox") == "0 0 120 80"
    accents = [group for group in root if group.get("class") == "clay"]
    assert len(accents) == (0 if path.stem in GOOD_ANSWERS else 1)
    marked = {element for accent in accents for element in accent.iter()}
    for element in root.iter():
        assert element.tag.rpartition("}")[2] in {"svg", "g", "path", "circle"}, (
            "no words: they would need every language"
        )
        allowed = {"none", clay} if element in marked else {"none", "currentColor"}
        assert {element.get("fill", "none"), element.get("stroke", "none")} <= allowed
        assert not {"style", "id"} & set(element.attrib)
