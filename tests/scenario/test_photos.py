"""Liners of the demo that are measured in a photo: what is recorded can be, and stays good."""

import hashlib
from pathlib import Path
from random import Random

import pytest
from pydantic import TypeAdapter

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.load import load_checklist
from qcapp.inspection.bodies import Answer
from qcapp.inspection.holes import is_sound
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.reports.photo_figures import compare_photo_figures, list_photo_figures
from qcapp.usecases.fill_demo_photos import measure_in_photo

FOLDER = Path(__file__).parents[2] / "checklists"
ANSWER = TypeAdapter(Answer)
CONTEXT = {"size": "medium", "batch": {}}


def answer_well(checklist):
    """Every number at its target."""
    return {
        check.id: {"values": [f"{check.limits_for('medium').nominal:g}"] * check.reading_count}
        for check in checklist.checks
        if isinstance(check, NumberCheck) and check.answer_key
        and check.limits_for("medium").nominal is not None
    }  # fmt: skip


@pytest.mark.parametrize("name", ["green-liner", "fired-liner"])
def test_photos_of_the_demo_are_sound_and_some_figures_are_typed(name):
    checklist = load_checklist(FOLDER / f"{name}.yaml")
    good, figures = answer_well(checklist), []
    for seed in range(12):
        taken, pictures = measure_in_photo(checklist, good, CONTEXT, Random(seed))
        assert [hashlib.sha256(one).hexdigest() for one in pictures.values()] == list(pictures)
        for key, answer in taken.items():
            assert ANSWER.validate_python(answer)["holes"] is not None
            assert is_sound(checklist.check_by_id[key], answer)
            assert answer["photos"] == list(pictures)
        answers = {**good, **taken}
        judged = judge_answers(checklist, answers, CONTEXT)
        failed = [k for k in good if counts_as_fail(checklist.check_by_id[k], judged[k].verdict)]
        assert not failed
        body = {"size": "medium", "batch_attributes": {}, "answers": answers}
        figures += list_photo_figures(checklist, body)
    rows = {row.figure: row for row in compare_photo_figures(figures)}
    assert list(rows) == ["count", "margin", "web", "width"]
    assert all(row.taken and row.typed for row in rows.values() if row.figure != "count")
