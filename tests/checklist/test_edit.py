"""Fields of a checklist: what is read and put back unchanged is the same checklist;
each change lands in its key.
"""

from pathlib import Path

import pytest

from qcapp.checklist.edit import apply_fields, merge, read_fields
from qcapp.checklist.load import load_checklist, read_text
from qcapp.checklist.write import as_source, write_yaml

FOLDER = Path(__file__).parents[2] / "checklists"
FINISHED = load_checklist(FOLDER / "finished-stove.yaml")
SOURCE = as_source(FINISHED.compiled())
ALL = frozenset(FINISHED.check_by_id)
WIDTH = "checks.door-opening-width.measure.limits.medium"


def read(source):
    return read_text(write_yaml(source), "own.yaml", FOLDER)


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_untouched_fields_give_the_same_checklist(path):
    checklist = load_checklist(path)
    source = as_source(checklist.compiled())
    fields = read_fields(source)
    made, errors = read(apply_fields(source, fields, checklist.check_by_id, checklist.revision))
    assert errors == [] and made.hash == checklist.hash
    assert len(fields) > 5 * len(checklist.checks)


def test_changes_land_where_their_key_says():
    typed = {
        f"{WIDTH}.upper": "102,5",
        f"{WIDTH}.nominal": " ",
        "checks.door-opening-width.basis": "our drawing 3",
        "checks.door-fit.ask.fr": "La porte couvre",
        "checks.door-fit.faults.door-gap.title.pt": "Folga grande",
        "title.en": "Our stove",
        "checks.grate-hole-count.count.rows.medium": "4 5 4, 6",
    }
    made, errors = read(apply_fields(SOURCE, typed, ALL, 2))
    assert errors == [] and (made.revision, made.title["en"]) == (2, "Our stove")
    checks = made.check_by_id
    limits = checks["door-opening-width"].limits["medium"]
    assert (limits.lower, limits.nominal, limits.upper) == (97, None, 102.5)
    assert checks["door-opening-width"].limits["small"].upper == 88
    before = FINISHED.check_by_id["door-fit"]
    assert checks["door-fit"].ask == {**before.ask, "fr": "La porte couvre"} != before.ask
    changed = [
        fault.id
        for fault, old in zip(checks["door-fit"].faults, before.faults, strict=True)
        if fault.title != old.title
    ]
    assert changed == ["door-gap"] and "Folga grande" in [
        fault.title.get("pt") for fault in checks["door-fit"].faults
    ]
    assert checks["grate-hole-count"].rows["medium"] == (4, 5, 4, 6)


def test_label_of_a_reading_and_reason_of_a_repeat_land_too():
    source = as_source(load_checklist(FOLDER / "fired-liner.yaml").compiled())
    typed = {
        "checks.grate-edge-margin.readings.labels.1.fr": "Devant",
        "checks.grate-edge-margin.asked_again.pt": "A grelha encolhe.",
    }
    uses = {check["id"] for check in source["checks"]}
    made, errors = read(apply_fields(source, typed, uses, 2))
    margin = made.check_by_id["grate-edge-margin"]
    assert errors == [] and margin.labels[0]["fr"] == "Devant"
    assert margin.asked_again["pt"] == "A grelha encolhe."


def test_parts_and_steps_go_with_their_checks():
    made, errors = read(apply_fields(SOURCE, {}, ALL - {"handle-pull"}, 2))
    assert (
        errors == []
        and "handles" not in [part.id for part in made.parts]
        and "fit-handles" not in made.step_by_id
    )
    again = merge(SOURCE, as_source(made.compiled()))
    assert [item["id"] for item in again["checks"]] == [check.id for check in FINISHED.checks], (
        "what was left out is offered again, in its place"
    )


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
    _made, errors = read(apply_fields(SOURCE, {key: text}, ALL, 2))
    assert (told, says) in [(error.key, says) for error in errors if says in error.what]


def test_english_of_a_caution_stays():
    typed = {"checks.leg-load.caution.en": "", "checks.leg-load.caution.fr": "Les pieds loin."}
    made, errors = read(apply_fields(SOURCE, typed, ALL, 2))
    assert errors == [] and made.check_by_id["leg-load"].caution == {
        **FINISHED.check_by_id["leg-load"].caution,
        "fr": "Les pieds loin.",
    }
