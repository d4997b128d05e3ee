"""A draft's fields and items: what is read and put back unchanged is the same checklist; each
change lands in its key; every field of the model can be changed.
"""

from pathlib import Path

import pytest

from qcapp.checklist import field_types
from qcapp.checklist.draft_fields import read_fields, read_source_text
from qcapp.checklist.edit import set_fields
from qcapp.checklist.edit_items import (
    add_item,
    add_size,
    build_check,
    change_list,
    copy_as_new,
    list_of,
    make_id,
    move_item,
    retire_item,
    retire_size,
    set_catcher,
    set_first_piece,
)
from qcapp.checklist.load import load_checklist, read_text
from qcapp.checklist.reused_codes import find_reused_codes, list_taken_codes
from qcapp.checklist.write import as_source, write_yaml
from tests.checklist.test_changes import FIELDS

FOLDER = Path(__file__).parents[2] / "checklists"
FINISHED = load_checklist(FOLDER / "finished-stove.yaml")
SOURCE = as_source(FINISHED.compiled())
WIDTH = "checks.door-opening-width.measure.limits.medium"
# Not typed: made from others, or items that are added, moved and retired.
OTHERWISE = {
    *("id", "kind", "revision", "stage", "made_from", "same_serial", "drawing", "sizes"),
    *("tools", "parts", "steps", "checks", "faults", "options", "after", "inputs"),
    *("accept_lower", "accept_upper", "twice_lower", "twice_upper", "lower", "nominal", "upper"),
    *("possible", "limits", "rows", "labels", "key_points"),
    # Chosen from a list, switched at a step.
    *("should_be_caught_by", "first_piece"),
}
TYPED = {
    *field_types.WORDS,
    *field_types.TEXTS,
    *field_types.CODES,
    *field_types.NUMBERS,
    *field_types.TICKS,
    field_types.CONDITIONS,
    field_types.FORMULA,
}


def read(source):
    return read_text(write_yaml(source), "own.yaml", FOLDER)


def make(source):
    checklist, errors = read(source)
    assert errors == []
    return checklist


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_untouched_fields_give_the_same_checklist(path):
    checklist = load_checklist(path)
    source = read_source_text(write_yaml(as_source(checklist.compiled())))
    fields = read_fields(source)
    assert make(set_fields(source, fields)).hash == checklist.hash
    assert len(fields) > 5 * len(checklist.checks)


@pytest.mark.parametrize("name", sorted({field for _model, field in FIELDS}))
def test_every_field_of_the_model_is_typed_somewhere(name):
    assert (name in TYPED) != (name in OTHERWISE)


def test_changes_land_where_their_key_says():
    typed = {
        f"{WIDTH}.upper": "102,5",
        f"{WIDTH}.nominal": " ",
        "checks.door-opening-width.basis": "our drawing 3",
        "checks.door-opening-width.measure.guard_factor": "0,825",
        "checks.door-fit.ask.fr": "La porte couvre",
        "checks.door-fit.faults.door-gap.title.pt": "Folga grande",
        "checks.door-fit.may_not_apply": "yes",
        "checks.door-fit.when": "painted = yes, size = small",
        "checks.door-fit.severity": "minor",
        "title.en": "Our stove",
        "steps.hang-door.rework_minutes": "20",
        "steps.hang-door.trade": "Metal work",
        "checks.grate-hole-count.count.rows.medium": "4 5 4, 6",
        "checks.leg-load.caution.fr": "",
        "nothing.of.this": "x",
    }
    made = make(set_fields(SOURCE, typed))
    checks = made.check_by_id
    assert made.title["en"] == "Our stove"
    width = checks["door-opening-width"]
    limits = width.limits["medium"]
    assert (limits.lower, limits.nominal, limits.upper) == (97, None, 102.5)
    assert (width.limits["small"].upper, width.guard_factor) == (88, 0.825)
    fit, before = checks["door-fit"], FINISHED.check_by_id["door-fit"]
    assert fit.ask == {**before.ask, "fr": "La porte couvre"} != before.ask
    assert (fit.may_not_apply, fit.severity) == (True, "minor")
    assert fit.when == {"batch.painted": True, "size": "small"}
    assert [fault.title["pt"] for fault in fit.faults if fault.id == "door-gap"] == ["Folga grande"]
    step = made.step_by_id["hang-door"]
    assert (step.rework_minutes, step.trade) == (20, "metal-work")
    assert checks["grate-hole-count"].rows["medium"] == (4, 5, 4, 6)
    assert "fr" not in checks["leg-load"].caution
    assert as_source(FINISHED.compiled()) == SOURCE, "the first one stays as it was"


def test_number_of_readings_brings_its_names_along_and_a_formula_its_checks():
    source = as_source(load_checklist(FOLDER / "fired-liner.yaml").compiled())
    made = set_fields(source, {"checks.grate-edge-margin.readings.n": "6"})
    check = next(one for one in made["checks"] if one["id"] == "grate-edge-margin")
    assert len(check["readings"]["labels"]) == 6
    assert check["readings"]["labels"][-1] == {"en": "Reading 6"}
    formula = "checks.door-opening-area.calculated.expression"
    made = make(set_fields(SOURCE, {formula: "door_opening_width * door_opening_height / 100"}))
    area = made.check_by_id["door-opening-area"]
    assert area.inputs == ("door-opening-width", "door-opening-height")


CUT = "steps.cut-door-opening.key_points"
CLADDING = as_source(load_checklist(FOLDER / "cladding.yaml").compiled())


def test_key_points_are_changed_added_and_taken_out_by_emptying_them():
    typed = {
        f"{CUT}.1.do.en": "",
        f"{CUT}.1.do.fr": "",
        f"{CUT}.1.do.pt": "",
        **{f"{CUT}.1.why.{tag}": " " for tag in ("en", "fr", "pt")},
        f"{CUT}.2.do.en": "Measure twice",
        f"{CUT}.3.do.en": "Deburr at once",
        f"{CUT}.3.why.en": "A burr cuts",
        f"{CUT}.9.do.en": "too many",
        "steps.roll-panels.key_points.1.do.en": "Roll slowly",
        "steps.roll-panels.key_points.1.why.en": "A kink stays",
    }
    made = make(set_fields(CLADDING, typed))
    points = made.step_by_id["cut-door-opening"].key_points
    assert [point.do["en"] for point in points] == ["Measure twice", "Deburr at once"]
    assert points[0].do["fr"] == "Mesurer à mi-hauteur avant la dernière coupe"
    assert made.step_by_id["roll-panels"].key_points[0].why == {"en": "A kink stays"}


def test_key_point_without_its_reason_is_told_at_the_reason():
    _made, errors = read(set_fields(CLADDING, {f"{CUT}.3.do.en": "Deburr at once"}))
    assert [error.key for error in errors] == [f"{CUT}.3.why.en"]


def test_more_than_five_key_points_are_refused():
    point = {"do": {"en": "Look"}, "why": {"en": "To see"}}
    steps = [{**step, "key_points": [point] * 6} for step in CLADDING["steps"][:1]]
    _made, errors = read({**CLADDING, "steps": steps + CLADDING["steps"][1:]})
    assert "more than 5 key points" in [str(error.what) for error in errors]


@pytest.mark.parametrize(
    ("key", "text", "told", "says"),
    [
        (f"{WIDTH}.upper", "a lot", f"{WIDTH}.upper", "a plain number"),
        (f"{WIDTH}.upper", "90", WIDTH, "above upper"),
        (f"{WIDTH}.upper", "999", f"{WIDTH}.upper", "outside the possible range"),
        ("checks.door-fit.ask.en", "", "checks.door-fit.ask.en", "empty text"),
        ("checks.door-fit.basis", " ", "checks.door-fit.basis", "empty text"),
    ],
)
def test_what_is_wrong_is_told_under_the_fields_own_key(key, text, told, says):
    _made, errors = read(set_fields(SOURCE, {key: text}))
    assert (told, says) in [(error.key, says) for error in errors if says in error.what]


def test_retired_check_takes_along_what_only_it_used():
    made = make(retire_item(SOURCE, "checks", "handle-pull"))
    assert "handles" not in [part.id for part in made.parts]
    assert "fit-handles" not in made.step_by_id
    # Nothing waits for a check that is not asked.
    waiting = next(check for check in FINISHED.checks if check.after)
    left = retire_item(SOURCE, "checks", waiting.after[0])
    check = next(one for one in left["checks"] if one["id"] == waiting.id)
    assert waiting.after[0] not in check.get("after", ())


def test_check_moves_among_those_of_its_part():
    of_body = [check.id for check in FINISHED.checks if check.part == "body"]
    made = make(move_item(SOURCE, "checks", of_body[2], "up"))
    moved = [check.id for check in made.checks if check.part == "body"]
    assert moved == [of_body[0], of_body[2], of_body[1], *of_body[3:]]
    assert move_item(SOURCE, "checks", of_body[0], "up") == SOURCE


@pytest.mark.parametrize("kind", ["tick", "measure", "count", "readings", "choice", "calculated"])
def test_new_check_of_each_kind_lacks_only_what_the_lead_must_say(kind):
    given = {
        "id": "new-one",
        "part": "door",
        "step": "hang-door",
        "severity": "minor",
        "ask": "New one",
        "how": "Look.",
        "fault": "Bad",
        "basis": "our drawing",
        "unit": "mm",
    }
    source = add_item(SOURCE, "checks", build_check(SOURCE, kind, given))
    block = f"checks.new-one.{kind}"
    allowed = ("limits", "possible", "expression", "inputs")
    for error in read(source)[1]:
        assert error.key.startswith(block) and error.key.split(".")[3] in allowed, error
    limits = {f"{block}.limits.{size}.lower": "40" for size in SOURCE["sizes"]}
    possible = {f"{block}.possible.lower": "0", f"{block}.possible.upper": "400"}
    formula = {f"{block}.expression": "door_opening_width + 1"}
    # What is no field of the kind is passed over.
    made = make(set_fields(source, limits | possible | formula))
    assert made.check_by_id["new-one"].kind == kind
    assert made.checks[-1].id == "new-one"


def test_new_size_begins_with_the_limits_of_another_and_goes_again():
    made = make(add_size(SOURCE, "giant", "large"))
    assert made.sizes[-1] == "giant"
    for check in made.checks:
        limits = getattr(check, "limits", {"giant": 1, "large": 1})
        assert limits["giant"] == limits["large"]
    again = make(retire_size(as_source(made.compiled()), "giant"))
    assert again.hash == FINISHED.hash


def test_faults_and_answers_are_added_and_taken_away():
    faults = list_of(SOURCE["checks"][0], "faults")
    new = {"id": "sharp-leg", "title": {"en": "Sharp leg"}}
    made = make(change_list(SOURCE, "sharp-edges", "faults", [*faults, new]))
    assert [fault.id for fault in made.check_by_id["sharp-edges"].faults][-1] == "sharp-leg"
    _made, errors = read(change_list(SOURCE, "sharp-edges", "faults", []))
    assert [error.what for error in errors] == ["the list is empty"]


@pytest.mark.parametrize(
    ("words", "taken", "made"),
    [
        ("Höhe der Tür", (), "hohe-der-tur"),
        ("Latch", ("latch", "latch-2"), "latch-3"),
        ("3 holes", (), "check-3-holes"),
        ("高さ", ("check",), "check-2"),
        ("x" * 90, (), "x" * 56),
    ],
)
def test_code_is_made_of_the_words_and_never_taken_twice(words, taken, made):
    assert make_id(words, taken, "check") == made


def test_code_of_a_retired_check_is_not_given_to_another():
    without = make(retire_item(SOURCE, "checks", "latch"))
    assert "latch" in list_taken_codes([FINISHED])["checks"]
    # Brought back as it was: the same meaning.
    assert find_reused_codes([FINISHED], without, FINISHED) == []
    other = make(set_fields(SOURCE, {"checks.latch.ask.en": "Latch is painted"}))
    ((key, words),) = find_reused_codes([FINISHED], without, other)
    assert (key, words) == ("checks.latch", "Latch lies flush and holds")
    # While it is in use, better words are no other meaning.
    assert find_reused_codes([FINISHED], FINISHED, other) == []


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_no_check_that_goes_leaves_a_first_piece_without_checks(path):
    source = as_source(load_checklist(path).compiled())
    left = source
    for check in source["checks"]:
        left = retire_item(left, "checks", check["id"])
        errors = read(left)[1] if left["checks"] else []
        assert [one for one in errors if one.key.startswith("first_piece")] == []
    assert "first_piece" not in left


def test_a_first_piece_is_switched_on_and_off_at_its_step():
    first = SOURCE["first_piece"]
    assert first
    more = set_first_piece(SOURCE, "hang-door", is_checked=True)
    assert set(make(more).first_piece) == {*first, "hang-door"}
    without = set_first_piece(more, first[0], is_checked=False)
    assert first[0] not in make(without).first_piece
    back = set_first_piece(without, first[0], is_checked=True)
    assert write_yaml(set_first_piece(back, "hang-door", is_checked=False)) == write_yaml(SOURCE)


def test_an_earlier_check_is_named_and_taken_back():
    named = next(check for check in SOURCE["checks"] if check.get("should_be_caught_by"))
    stage, (first, *_more) = next(iter(named["should_be_caught_by"].items()))
    gone = set_catcher(SOURCE, named["id"], stage, first, is_named=False)
    left = make(gone).check_by_id[named["id"]].should_be_caught_by or {}
    assert first not in left.get(stage, ())
    back = make(set_catcher(gone, named["id"], stage, first, is_named=True))
    before = FINISHED.check_by_id[named["id"]].should_be_caught_by
    again = back.check_by_id[named["id"]].should_be_caught_by
    assert {key: set(names) for key, names in again.items()} == {
        key: set(names) for key, names in before.items()
    }


def test_another_checklist_begins_like_this_one():
    copy = make(copy_as_new(SOURCE, "Square stove", {"square-stove"}))
    assert (copy.id, copy.revision, copy.title["en"]) == ("square-stove-2", 1, "Square stove")
    assert [check.id for check in copy.checks] == [check.id for check in FINISHED.checks]
