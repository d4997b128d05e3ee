"""The checklists a yard starts with: complete, consistent, with every limit's source."""

import json
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml

from qcapp.checklist import source
from qcapp.checklist.check_kinds import CHECK_KINDS, NUMBER_KINDS
from qcapp.checklist.expression import evaluate
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist

FOLDER = Path(__file__).parents[2] / "checklists"
FILES = sorted(FOLDER.glob("*.yaml"))
DRAWINGS = sorted(FOLDER.glob("*.svg"))
# In the order of the making: metal, clay, fire, then both together.
STAGES = {
    "blanks": "blanks",
    "cladding": "cladding",
    "green-liner": "green-liner",
    "firing": "firing",
    "fired-liner": "fired-liner",
    "bedding": "bedding",
    "finished-stove": "finished",
}
SOURCED = (
    "placeholder",
    "common practice, no source",
    "S1 ",
    "S2 ",
    "S5 ",
    "S7 ",
    "S8 ",
    "S9 ",
    "S11 ",
    "S13 ",
    "S15 ",
    "S16 ",
    "S23 ",
    "S24 ",
    "arithmetic: ",
)


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def shipped(request: pytest.FixtureRequest) -> Checklist:
    return load_checklist(request.param)


def get_finished() -> Checklist:
    return load_checklist(FOLDER / "finished-stove.yaml")


def test_all_seven_stages_are_there() -> None:
    assert {path.stem: load_checklist(path).stage for path in FILES} == STAGES


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_shipped_file_has_no_error(path: Path) -> None:
    assert [str(error) for error in find_errors(path)] == []
    assert load_checklist(path).id == path.stem


def test_every_check_says_where_its_limit_comes_from(shipped: Checklist) -> None:
    assert [
        check.id for check in shipped.checks if not any(word in check.basis for word in SOURCED)
    ] == []


def test_question_fits_a_small_screen(shipped: Checklist) -> None:
    assert [check.id for check in shipped.checks if len(check.ask["en"]) > 45] == []
    assert [check.id for check in shipped.checks if len(check.how["en"]) > 130] == []


def test_checks_follow_the_walk_order_of_the_parts(shipped: Checklist) -> None:
    order = [part.id for part in shipped.parts]
    places = [order.index(check.part) for check in shipped.checks]
    assert places == sorted(places)


def test_nominal_value_is_never_doubtful(shipped: Checklist) -> None:
    for check in shipped.checks:
        for size, limits in getattr(check, "limits", {}).items():
            if limits.nominal is None:
                continue
            assert limits.accept_lower is None or limits.accept_lower <= limits.nominal, (
                check.id,
                size,
            )
            assert limits.accept_upper is None or limits.nominal <= limits.accept_upper, (
                check.id,
                size,
            )


def test_calculated_checks_pass_at_the_nominal_inputs(shipped: Checklist) -> None:
    for check in shipped.checks:
        if check.kind != "calculated":
            continue
        for size in shipped.sizes:
            inputs = {
                name: shipped.check_by_id[name].limits_for(size).nominal for name in check.inputs
            }
            if None in inputs.values():
                continue
            value, limits = evaluate(check.expression, inputs), check.limits_for(size)
            assert limits.lower is None or value >= limits.lower, (check.id, size, value)
            assert limits.upper is None or value <= limits.upper, (check.id, size, value)


def test_all_kinds_conditions_and_both_decisions_are_shown() -> None:
    checks = [check for path in FILES for check in load_checklist(path).checks]
    assert {check.kind for check in checks} == set(CHECK_KINDS)
    assert {check.decision for check in checks if check.kind in NUMBER_KINDS} == {
        "simple",
        "guarded",
    }
    assert any(check.when == {"batch.painted": True} for check in checks)


def test_paint_is_asked_of_painted_batches_only() -> None:
    paint = [check for check in get_finished().checks if check.step == "paint-body"]
    assert paint
    assert all(check.when == {"batch.painted": True} for check in paint)


def test_good_medium_stove_needs_three_typed_values_with_seven_digits() -> None:
    typed = []
    for check in get_finished().checks:
        if check.reading_count:
            typed += [str(check.limits_for("medium").nominal)] * check.reading_count
    assert len(typed) == 3
    assert sum(map(len, typed)) == 7


def test_leg_load_warns_for_hands_and_feet() -> None:
    caution = get_finished().check_by_id["leg-load"].caution["en"].lower()
    assert "feet" in caution
    assert "never a hand under" in caution


def test_nobody_is_led_to_light_a_stove_indoors() -> None:
    cautions = [check.caution["en"] for check in get_finished().checks if check.caution]
    assert any("carbon monoxide" in caution and "indoors" in caution for caution in cautions)


@pytest.mark.parametrize("rows", [(4, 5, 6), (4, 5, 6, 5, 4), (4, 6, 4), (3, 4, 5, 4)])
def test_rows_of_a_grate_that_do_not_add_up_to_its_holes_are_refused(
    tmp_path: Path, rows: tuple[int, ...]
) -> None:
    """The trade names rows of 4, 5 and 6 holes, but no order of them makes 19 on a round grate."""
    text = (FOLDER / "green-liner.yaml").read_text(encoding="utf-8")
    assert text.count("rows: {all: [3, 4, 5, 4, 3]}") == 1
    text = text.replace("rows: {all: [3, 4, 5, 4, 3]}", f"rows: {{all: {list(rows)}}}")
    shutil.copy(FOLDER / "liner.svg", tmp_path)
    shutil.copytree(FOLDER / "pictures", tmp_path / "pictures")
    path = tmp_path / "green-liner.yaml"
    path.write_text(text, encoding="utf-8")
    (error,) = find_errors(path)
    assert f"add up to {sum(rows)}, the count is 19" in error.what


def test_grate_of_nineteen_holes_fits_its_own_limits() -> None:
    # Rows 3-4-5-4-3 on a triangular lattice: the outermost centres lie two pitches from the middle.
    liner = load_checklist(FOLDER / "fired-liner.yaml").check_by_id
    for size in ("small", "medium", "large"):
        across, hole, margin = (
            liner[name].limits_for(size).nominal
            for name in ("grate-diameter", "hole-size", "grate-edge-margin")
        )
        pitch = (across / 2 - margin - hole / 2) / 2
        assert pitch - hole >= liner["grate-web"].limits_for(size).lower
        assert sum(liner["grate-hole-count"].rows[size]) == 19


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_drawing_is_small_and_each_part_can_be_tapped(path: Path) -> None:
    assert path.stat().st_size < 9216
    root = ElementTree.parse(path).getroot()
    _, _, width, height = map(float, root.get("viewBox").split())
    parts = [group for group in root.iter() if group.get("class") == "part"]
    assert parts
    for part in parts:
        hits = [rect for rect in part.iter() if rect.get("class") == "hit"]
        assert hits, part.get("id")
        for rect in hits:
            x, y, w, h = (float(rect.get(name)) for name in ("x", "y", "width", "height"))
            assert x >= 0 and x + w <= width and y >= 0 and y + h <= height, (
                part.get("id"),
                x,
                y,
                w,
                h,
            )
            assert rect.get("pointer-events") == "all"


def count_drawn_holes(drawing: str) -> list[int]:
    """Holes of the drawn grate in each row, from above."""
    root = ElementTree.parse(FOLDER / drawing).getroot()
    (grate,) = [group for group in root if group.get("id") == "grate"]
    rows: dict[str, int] = {}
    for circle in [circle for group in grate for circle in group if circle.tag.endswith("circle")]:
        rows[circle.get("cy")] = rows.get(circle.get("cy"), 0) + 1
    return list(rows.values())


def test_drawn_grate_has_the_rows_of_its_checklist() -> None:
    """A section through the grate, as in the drawing of the bedding, shows no row from above."""
    for path in FILES:
        checklist = load_checklist(path)
        drawn = (
            count_drawn_holes(checklist.drawing)
            if "grate" in [part.id for part in checklist.parts]
            else []
        )
        counted = [check.rows for check in checklist.checks if getattr(check, "rows", None)]
        for rows in counted if drawn else ():
            assert {tuple(drawn)} == set(rows.values()), checklist.id
    assert count_drawn_holes("liner.svg") == [3, 4, 5, 4, 3]


def test_drawings_carry_no_colour_of_their_own() -> None:
    for path in DRAWINGS:
        for element in ElementTree.parse(path).getroot().iter():
            assert {element.get("fill", "none"), element.get("stroke", "none")} <= {
                "none",
                "currentColor",
            }, path.name
            assert "style" not in element.attrib


def test_icons_have_their_named_size() -> None:
    icons = FOLDER.parent / "static" / "phone" / "icons"
    for name, size in (
        ("icon-192", 192),
        ("icon-512", 512),
        ("icon-maskable-512", 512),
        ("apple-touch-icon-180", 180),
    ):
        header = (icons / f"{name}.png").read_bytes()[:24]
        assert header[:8] == b"\x89PNG\r\n\x1a\n"
        assert (int.from_bytes(header[16:20]), int.from_bytes(header[20:24])) == (size, size)
        assert (icons / f"{name}.png").stat().st_size < 8192


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_slower_parser_reads_the_same(path, monkeypatch):
    """PyYAML may have been built without the C parser."""
    assert source.LOADER is yaml.CSafeLoader
    fast = load_checklist(path)
    monkeypatch.setattr(source, "LOADER", yaml.SafeLoader)
    assert load_checklist(path) == fast


def test_every_piece_that_the_phone_asks_for_has_its_word(shipped: Checklist) -> None:
    words = json.loads((FOLDER.parent / "static/phone/words/en.json").read_text(encoding="utf-8"))
    assert [stage for stage in shipped.made_from if f"piece.{stage}" not in words] == []
