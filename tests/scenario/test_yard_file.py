"""A yard file: the guide's own example, and what is refused before anything changes."""

import re
from pathlib import Path

import pytest

from qcapp.errors import BadInput
from qcapp.scenario.yard_file import load_yard_file
from tests.builders import build_small_checklist

GUIDE_PAGE = Path(__file__).resolve().parents[2] / "static" / "guide" / "make-it-yours.md"
CHECKLISTS = {"finished-stove": build_small_checklist()}


def write(tmp_path, change=lambda text: text):
    guide = GUIDE_PAGE.read_text(encoding="utf-8")
    text = re.search(r"```yaml\n(people:.*?)```", guide, re.DOTALL)[1]
    path = tmp_path / "yard.yaml"
    path.write_text(change(text), encoding="utf-8")
    return path


def test_example_of_the_guide_is_good(tmp_path):
    yard = load_yard_file(write(tmp_path), CHECKLISTS)
    assert [person["code"] for person in yard.list_people()] == ["I01", "A01"]
    (batch,) = yard.list_batches()
    assert (
        batch["opened_on"] == "2026-11-25"
        and batch["closed_at"] is None
        and batch["crew"] == {"metalwork": "A01"}
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("code: A01, name", "code: I01, name", "the same person appears twice"),
        ("crew: {metalwork: A01}", "crew: {metalwork: I01}", "no one with the trade metalwork"),
        ("size: medium", "size: huge", "no limits for the size huge"),
        ("[finished-stove]", "[some-stove]", "no checklist some-stove"),
        ("planned: 40", "planned: none", "planned"),
        ("planned: 40", "plannned: 40", "plannned"),
        ("people:", "people: [", "cannot be read"),
        ("started_on: 2024-03-01", "started_on: soon", "started_on"),
    ],
)
def test_what_does_not_fit_is_named(tmp_path, old, new, says):
    with pytest.raises(BadInput) as caught:
        load_yard_file(write(tmp_path, lambda text: text.replace(old, new, 1)), CHECKLISTS)
    assert says in str(caught.value)
