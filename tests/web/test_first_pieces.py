"""First pieces: stated by the checklist, kept apart from every figure, shown on the step's page."""

import json

import pytest

from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.write import as_source, write_yaml
from qcapp.inspection.event import seal_event
from qcapp.store.registry.checklists import publish_checklist
from qcapp.usecases.rebuild_figures import rebuild_figures
from tests.builders import build_small_checklist, open_yard
from tests.conftest import CHECKOUT
from tests.page_text import text_of

STEP = "/trainer/steps/small-stove/cut-door-opening"
PAGES = ("/", "/trainer", STEP, "/trainer/drift", "/batches", "/batches/B1", "/trainer/inspectors")
CLADDING = CHECKOUT / "checklists" / "cladding.yaml"


@pytest.fixture
def yard():
    found = open_yard()
    found.push(
        *(found.phone.inspect(f"B1-{n:03}", width=str(99 + n % 3)) for n in range(1, 7)),
        found.phone.inspect("B1-007", width="120", disposition="rework"),
    )
    return found


def first_piece(yard, width, *, at, reason="day", maker="A01", **change):
    body = {
        "step": "cut-door-opening",
        "maker": maker,
        "reason": reason,
        "size": "medium",
        "batch_attributes": {"painted": False},
        "started_at": at,
        "answers": {"door-opening-width": {"values": [width], "fault": "too-large"}},
        "verdicts": {"door-opening-width": "pass"},
        "is_good": True,
    }
    event = yard.phone.seal("first_piece", None, body, at=at)
    return seal_event({**event, "stage": None, **change})


def test_first_pieces_of_a_step_with_those_set_right(yard):
    yard.push(
        first_piece(yard, "100", at="2026-11-20T06:00:00.000Z"),
        first_piece(yard, "106", at="2026-11-23T06:00:00.000Z"),
        first_piece(yard, "100", at="2026-11-23T07:00:00.000Z", reason="set_right"),
        first_piece(yard, "107", at="2026-11-24T06:00:00.000Z", reason="new_tool"),
        # A good one of another maker sets nothing right.
        first_piece(yard, "100", at="2026-11-24T08:00:00.000Z", maker="A02"),
    )
    page = text_of(yard.client.get(STEP))
    assert "2 of 4 first pieces good." in page
    assert "Of the 2 with a fault, 1 was set right" in page.replace("were", "was")
    assert "yes, the same day" in page and "not recorded" in page and "new template or tool" in page


def test_first_pieces_change_no_figure_and_are_no_stove(yard):
    """Whatever is counted before them is counted after them, also when all is counted anew."""
    answers = [yard.client.get(page) for page in PAGES]
    before = [text_of(one) for one in answers if one.status_code == 200]
    tables = yard.client.get("/trainer/tables/steps.csv").text
    assert len(before) == len(PAGES)
    yard.push(*(first_piece(yard, "150", at=f"2026-11-2{n}T06:00:00.000Z") for n in range(5)))
    rebuild_figures(yard.store, lambda _done, _of: None)
    after = [text_of(yard.client.get(page)) for page in PAGES]
    for page, old, new in zip(PAGES, before, after, strict=True):
        shown = new if page != STEP else _without_first(new)
        assert shown.strip() == old.strip(), page
    assert yard.client.get("/trainer/tables/steps.csv").text == tables


def _without_first(page):
    start = page.index("First pieces 0 of 5")
    end = page.index("releases no stove.") + len("releases no stove.")
    return page[:start].rstrip() + page[end:]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"inspector": "NOBODY"}, "unknown_inspector"),
        ({"batch": "B9"}, "unknown_batch"),
        ({"checklist_hash": "0" * 64}, "unknown_checklist"),
        ({"maker": "A99"}, "unknown_artisan"),
        ({"width": "4000"}, "impossible_value"),
        ({"stove": "B1-001"}, "wrong_form"),
    ],
)
def test_what_cannot_be_one_is_kept_and_held_back(yard, change, says):
    made = {"at": "2026-11-24T06:00:00.000Z", "width": "100", **change}
    width = made.pop("width")
    result = yard.push(first_piece(yard, width, **made))["results"][0]
    assert (result["outcome"], result["reason"]["code"]) == ("quarantined", says)
    assert "First pieces" not in text_of(yard.client.get(STEP))
    held = yard.client.get("/yard/quarantine")
    assert held.status_code == 200


def test_checklist_names_its_steps_and_a_page_says_that_none_was_checked(yard):
    asked = build_small_checklist(2).model_copy(update={"first_piece": ("cut-door-opening",)})
    with yard.store.writing() as connection:
        publish_checklist(connection, asked, origin="yard", now="2026-11-24T00:00:00.000Z")
    page = text_of(yard.client.get(STEP))
    assert "None has been checked in these days" in page


def test_shipped_checklists_ask_for_first_pieces_and_write_them_back(tmp_path):
    checklist = load_checklist(CLADDING)
    assert checklist.first_piece == ("cut-door-opening", "hang-door")
    assert write_yaml(as_source(checklist.compiled())).count("first_piece: [") == 1
    assert "first_piece" not in json.dumps(build_small_checklist().compiled())


@pytest.mark.parametrize(
    ("steps", "says"),
    [
        ("[cut-door-openin]", "is not known"),
        ("[fold-seams, fold-seams]", "twice"),
        ("[roll-hinge]", "has no critical and no measured check"),
    ],
)
def test_step_that_cannot_have_one_is_refused_with_its_line(tmp_path, steps, says):
    text = CLADDING.read_text(encoding="utf-8")
    path = CLADDING.with_name("cladding.yaml")
    broken = tmp_path / path.name
    broken.write_text(text.replace("[cut-door-opening, hang-door]", steps), encoding="utf-8")
    found = [error for error in find_errors(broken) if error.key.startswith("first_piece")]
    assert found and says in found[0].what and found[0].line == 11
