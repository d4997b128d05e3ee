"""Cells of a typed sheet: what each kind takes, and what is refused with a way out."""

from pathlib import Path

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.errors import BadInput
from qcapp.inspection.letters import letter_of, place_of
from qcapp.inspection.paper import fill_stove, read_cells

ROOT = Path(__file__).resolve().parent.parent.parent
CHECKLISTS = {path.stem: load_checklist(path) for path in (ROOT / "checklists").glob("*.yaml")}
STOVE, LINER = CHECKLISTS["finished-stove"], CHECKLISTS["fired-liner"]
MEDIUM = {"size": "medium", "batch": {"painted": False}}


def find(check_id: str):
    if check_id == "skippable":
        return STOVE.check_by_id["latch"].model_copy(update={"may_not_apply": True})
    return STOVE.check_by_id.get(check_id) or LINER.check_by_id[check_id]


@pytest.mark.parametrize(
    ("check", "texts", "answer"),
    [
        ("latch", ["p"], {"mark": "pass"}),
        ("latch", [" 1 "], {"mark": "pass"}),
        ("latch", ["FB"], {"mark": "fail", "fault": "latch-not-flush"}),
        (
            "latch",
            ["2b tongue bent"],
            {"mark": "fail", "fault": "latch-not-flush", "note": "tongue bent"},
        ),
        ("skippable", ["3 no door ordered"], {"mark": "not_applicable", "note": "no door ordered"}),
        ("latch", [""], {}),
        ("latch", [], {}),
        ("door-opening-width", ["100,5"], {"values": ["100.5"]}),
        (
            "door-opening-width",
            ["105a measured twice"],
            {"values": ["105"], "fault": "too-wide", "note": "measured twice"},
        ),
        ("door-opening-width", ["3"], {"values": ["3"]}),
        ("skippable", ["N no door"], {"mark": "not_applicable", "note": "no door"}),
        ("door-opening-width", ["x torn"], {"mark": "cannot_measure", "note": "torn"}),
        (
            "door-opening-width",
            ["xa torn"],
            {"mark": "cannot_measure", "fault": "too-wide", "note": "torn"},
        ),
        ("grate-edge-margin", ["15", "14,5", "", "16"], {"values": ["15", "14.5", "16"]}),
        (
            "grate-edge-margin",
            ["9", "9 chipped", "9", "9a"],
            {"values": ["9"] * 4, "fault": "too-near-edge", "note": "chipped"},
        ),
        ("ring", ["b"], {"option": "buzz"}),
        ("door-opening-area", ["a"], {"fault": "area-too-large"}),
    ],
)
def test_cell_gives_the_answer(check, texts, answer):
    assert read_cells(find(check), texts) == answer


@pytest.mark.parametrize(
    ("check", "texts", "says"),
    [
        ("latch", ["x"], "is not an answer"),
        ("latch", ["pb"], "is not an answer"),
        ("latch", ["fz"], "a Does not hold"),
        ("latch", ["n no door"], "applies to every stove"),
        ("door-opening-width", ["n"], "applies to every stove"),
        ("door-opening-width", ["x"], "the reason"),
        ("door-opening-width", ["xz torn"], "no fault 'z'"),
        ("grate-edge-margin", ["x broken", "15"], "without a reading"),
        ("door-opening-width", ["1.0.0"], "is not a number"),
        ("door-opening-width", ["-5"], "is not a number"),
        ("door-opening-width", ["100mm"], "no fault 'mm'"),
        ("door-opening-width", ["1e3"], "is not a number"),
        ("crack-rule", ["g"], "from a to f"),
    ],
)
def test_refusal_says_what_can_be_typed(check, texts, says):
    with pytest.raises(BadInput) as refusal:
        read_cells(find(check), texts)
    assert says in f"{refusal.value.what}: {refusal.value.todo}" and refusal.value.where == check


def fill_good(**change) -> dict:
    values = {
        "door-opening-width": ["100"],
        "door-opening-height": ["70"],
        "grate-hole-count": ["19"],
    }
    return {
        **{
            check.id: values.get(check.id, ["p"] if check.kind == "tick" else [""])
            for check in STOVE.checks
        },
        **change,
    }


def test_good_stove_passes_everything_and_is_proposed_for_release():
    filled = fill_stove(STOVE, fill_good(), MEDIUM)
    assert not filled.problems and filled.allowed == ["release", "hold"]
    assert {judged.verdict for judged in filled.judgements.values()} == {"pass", "not_applicable"}
    assert (
        filled.answers["grate-hole-count"] == {"values": ["19"]}
        and "door-opening-area" not in filled.answers
    )


def test_worked_out_check_fails_by_its_inputs_and_names_its_side():
    filled = fill_stove(
        STOVE, fill_good(**{"door-opening-width": ["103"], "door-opening-height": ["73"]}), MEDIUM
    )
    assert not filled.problems and filled.answers["door-opening-area"] == {
        "fault": "area-too-large"
    }
    assert (
        filled.judgements["door-opening-area"].verdict == "fail" and filled.allowed[0] == "rework"
    )


def test_what_cannot_be_measured_fails_and_its_sum_is_no_reason_to_hold():
    filled = fill_stove(STOVE, fill_good(**{"door-opening-width": ["x torn"]}), MEDIUM)
    assert not filled.problems and filled.missing == []
    assert filled.answers["door-opening-width"]["fault"] == "cannot-measure"
    assert filled.judgements["door-opening-area"].reason == "input-not-measurable"
    assert filled.allowed[0] == "rework"


def test_only_fault_and_fault_of_the_side_need_no_letter():
    filled = fill_stove(
        STOVE, fill_good(**{"liner-level": ["f"], "door-opening-width": ["90"]}), MEDIUM
    )
    assert not filled.problems
    assert (
        filled.answers["liner-level"]["fault"] == "not-level"
        and filled.answers["door-opening-width"]["fault"] == "too-narrow"
    )


def test_impossible_and_broken_readings_are_problems_and_missing_ones_are_not():
    cells = fill_good(
        **{
            "door-opening-width": ["999"],
            "grate-hole-count": ["18,5"],
        }
    )
    filled = fill_stove(STOVE, cells, MEDIUM)
    assert set(filled.problems) == {"door-opening-width", "grate-hole-count"}
    liner = fill_stove(LINER, {"grate-edge-margin": ["15", "", "", ""]}, MEDIUM)
    assert not liner.problems
    assert liner.judgements["grate-edge-margin"].verdict == "missing" and liner.allowed[0] == "hold"


def test_new_reading_is_recorded_with_the_old_one_it_is_worked_out_with():
    earlier = {
        "door-opening-width": {"values": ["100"]},
        "door-opening-height": {"values": ["80"], "fault": "too-high"},
    }
    filled = fill_stove(STOVE, {"door-opening-height": ["70"]}, MEDIUM, earlier)
    assert filled.answers == {
        "door-opening-width": {"values": ["100"]},
        "door-opening-height": {"values": ["70"]},
    }
    assert filled.judgements["door-opening-area"].verdict == "pass"


def test_letters_leave_out_n_and_go_on_after_z():
    assert [letter_of(place) for place in (0, 12, 13, 24, 25, 26, 50)] == [
        "a",
        "m",
        "o",
        "z",
        "aa",
        "ab",
        "ba",
    ]
    assert (
        all(place_of(letter_of(place), 60) == place for place in range(60))
        and place_of("n", 60) is None
        and place_of("c", 2) is None
    )
