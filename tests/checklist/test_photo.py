"""Checks taken from a photo: each mistake is refused with its key, the page and the YAML carry the
keys through, and of the shipped checklists only free, flat parts name a photo.
"""

from pathlib import Path

import pytest
import yaml

from qcapp.checklist.base_check import PhotoCheck
from qcapp.checklist.changes import list_changes
from qcapp.checklist.draft_fields import read_fields
from qcapp.checklist.edit import set_fields
from qcapp.checklist.load import load_checklist, read_text
from qcapp.checklist.photo import is_flat
from qcapp.checklist.write import as_source, write_yaml
from tests.checklist.small import find_small_errors, write_small

FOLDER = Path(__file__).parents[2] / "checklists"
LINER = ("stage: finished", "stage: fired-liner")
COUNT = ("      unit: holes", "      photo: holes\n      unit: holes")
MARGIN = ("      n: 2", "      photo: holes\n      figure: margin\n      n: 2")

# what is wrong: (changes, key told, word in the message, word in what to do)
WRONG = {
    "unknown photo": ((LINER, ("unit: holes", "photo: cracks\n      unit: holes")),
                      "checks.holes.count.photo", "'cracks' is not known", "holes"),
    "figure of a count": ((LINER, ("    count:\n", f"    count:\n{MARGIN[1][:40]}")),
                          "checks.holes.count.figure", "number of holes", "remove"),
    "unknown figure": ((LINER, (MARGIN[0], MARGIN[1].replace("margin", "count"))),
                       "checks.margin.readings.figure", "'count' is not known", "margin"),
    "no figure": ((LINER, (MARGIN[0], "      photo: holes\n      n: 2")),
                  "checks.margin.readings.photo", "not said", "margin"),
    "no photo": ((LINER, (MARGIN[0], "      figure: web\n      n: 2")),
                 "checks.margin.readings.figure", "no photo", "photo: holes"),
    "not in mm": ((LINER, MARGIN, ("{en: Back}]\n      unit: mm", "{en: Back}]\n      unit: cm")),
                  "checks.margin.readings.figure", "in cm", "in mm"),
    "margin by mean": ((LINER, MARGIN, ("by: smallest", "by: mean")),
                       "checks.margin.readings.figure", "judged by the mean", "by: smallest"),
    "width by range": ((LINER, (MARGIN[0], MARGIN[1].replace("margin", "width")),
                        ("by: smallest", "by: range")),
                       "checks.margin.readings.figure", "judged by the range", "remove photo"),
    "a tick": ((LINER, ("    tick: {}", "    tick: {photo: holes}")),
               "checks.swing.tick.photo", "unknown key 'photo'", "known here"),
    "a sum": ((LINER, ('      expression: "2', '      photo: holes\n      expression: "2')),
              "checks.double.calculated.photo", "unknown key 'photo'", "known here"),
    "a grate deep in a stove": ((COUNT,),
                                "checks.holes.count.photo", "cannot be laid flat", "by hand"),
    "a curved wall": ((LINER, ("unit: mm", "unit: mm\n      photo: holes\n      figure: width")),
                      "checks.width.measure.photo", "part 'door' of stage 'fired-liner'", "curved"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_each_mistake_is_refused_with_its_key(tmp_path, name):
    changes, key, what, todo = WRONG[name]
    (error,) = find_small_errors(tmp_path, *changes)
    assert error.key == key and what in str(error.what) and todo in str(error.todo)


def test_count_and_readings_may_name_a_photo(tmp_path):
    checklist = load_checklist(write_small(tmp_path, LINER, COUNT, MARGIN))
    holes, margin = checklist.check_by_id["holes"], checklist.check_by_id["margin"]
    assert (holes.photo, holes.photo_figure) == ("holes", None)
    assert (margin.photo, margin.photo_figure) == ("holes", "margin")
    plain = load_checklist(write_small(tmp_path, LINER))
    assert not {"photo", "figure"} & {key for one in plain.compiled()["checks"] for key in one}


def test_yaml_and_page_carry_a_photo_through_and_name_its_change(tmp_path):
    path = write_small(tmp_path, LINER, COUNT, MARGIN)
    checklist = load_checklist(path)
    source = as_source(checklist.compiled())
    fields = read_fields(source)
    assert fields["checks.margin.readings.figure"] == "margin"
    kept, errors = read_text(write_yaml(source), "small.yaml", tmp_path)
    assert not errors and kept.hash == checklist.hash
    changed = set_fields(source, {"checks.margin.readings.figure": "web"})
    after, errors = read_text(write_yaml(changed), "small.yaml", tmp_path)
    assert not errors
    (change,) = list_changes(checklist, after, {})
    assert str(change.text) == (
        "Figure taken from the photo: now smallest web between two holes; "
        "before smallest margin from a hole to the edge"
    )
    emptied = set_fields(source, {"checks.holes.count.photo": ""})
    assert "photo" not in next(one for one in emptied["checks"] if one["id"] == "holes")["count"]


def test_every_shipped_check_of_holes_in_a_free_grate_names_its_photo():
    named = {
        (checklist.id, check.id): check.photo_figure
        for path in sorted(FOLDER.glob("*.yaml"))
        for checklist in [load_checklist(path)]
        for check in checklist.checks
        if isinstance(check, PhotoCheck) and check.photo and is_flat(checklist.stage, check.part)
    }
    wanted = {
        "grate-hole-count": None,
        "hole-size": "width",
        "grate-edge-margin": "margin",
        "grate-web": "web",
    }
    assert named == {
        (liner, check): figure
        for liner in ("fired-liner", "green-liner")
        for check, figure in wanted.items()
    }
    photos = [line for path in FOLDER.glob("*.yaml") for line in _list_photos(path)]
    assert len(photos) == len(named)


def _list_photos(path):
    checks = yaml.safe_load(path.read_text("utf-8"))["checks"]
    blocks = [block for check in checks for block in check.values() if isinstance(block, dict)]
    return [block for block in blocks if "photo" in block]
