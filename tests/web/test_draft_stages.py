"""The stage of a draft, the earlier stages it goes on from; that no key of a checklist can be
changed only in a file.
"""

import re
from html import unescape

import pytest

from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.checklist.load import load_checklist
from qcapp.store.registry import checklists
from tests.builders import open_yard
from tests.checklist.test_changes import MODELS
from tests.web.test_drafts import FOLDER, ID, LOADED, list_changes, post, publish, read, read_draft

# Earlier stages, whose checklists have kinds and keys that the finished stove's has not.
ELSEWHERE = ("green-liner", "fired-liner", "bedding")
# Keys with no control in a form, and why.
NO_CONTROL = {
    "id": "a code is made of the name once and kept for ever: records name it",
    "kind": "how a check is answered is chosen when it is added; another kind is another check",
    "revision": "counted up by each publication",
    "accept_lower": "worked out from limit, uncertainty and rule",
    "accept_upper": "worked out from limit, uncertainty and rule",
    "twice_lower": "worked out for the mean of two readings",
    "twice_upper": "worked out for the mean of two readings",
    "inputs": "found in the formula",
}


@pytest.fixture
def yard():
    yard = open_yard()
    with yard.store.writing() as connection:
        for name in (ID, *ELSEWHERE):
            checklists.publish_checklist(
                connection,
                load_checklist(FOLDER / f"{name}.yaml"),
                origin="file",
                now="2026-11-01T00:00:00.000Z",
            )
    return yard


def test_stage_and_earlier_stages_are_changed_and_told_before_publishing(yard):
    assert LOADED.stage == "finished" and "cladding" in LOADED.same_serial
    assert post(yard, "/stage", stage="finished").status_code == 303
    assert not read_draft(yard).is_changed, "saved as it was"
    fields = {"stage": "bedding", "joined.cladding": "made_from", "joined.fired-liner": ""}
    assert post(yard, "/stage", **fields).status_code == 303
    source = read_draft(yard).source
    assert source["stage"] == "bedding" and "cladding" in source["made_from"]
    assert "fired-liner" not in source["made_from"]
    page = read(yard, "/steps")
    assert "bedding; goes on from:" in page.split("Stage", 1)[1]
    told = "\n".join(list_changes(yard))
    for words in ("Stage", "Stages whose pieces are built in", "Earlier stages of the same piece"):
        assert words in told
    assert "finished" in told and "bedding" in told


def test_checks_name_no_check_of_a_stage_that_is_joined_no_more(yard):
    stages = {stage for check in LOADED.checks for stage in check.should_be_caught_by or ()}
    assert stages
    post(yard, "/stage", stage="finished", **{f"joined.{stage}": "" for stage in stages})
    assert read_draft(yard).checked.errors == ()
    assert not [
        check for check in read_draft(yard).source["checks"] if "should_be_caught_by" in check
    ]
    told = "\n".join(list_changes(yard))
    assert "Earlier checks that should have caught its faults" in told
    assert publish(yard).status_code == 303


@pytest.mark.parametrize(
    "fields",
    [{"stage": ""}, {"stage": "nowhere"}, {"new_stage": "7"}, {"joined.bedding": "glued"}],
)
def test_what_is_no_stage_is_refused(yard, fields):
    assert post(yard, "/stage", **{"stage": "finished", **fields}).status_code == 400
    assert not read_draft(yard).is_changed


def test_a_stage_of_the_yards_own_is_named_in_words(yard):
    post(yard, "/stage", stage="finished", new_stage="Glazed and dried")
    assert read_draft(yard).source["stage"] == "glazed-and-dried"
    assert read_draft(yard).checked.errors == ()


def list_controls(html):
    """Every word of the names, values and addresses by which the forms of a page change a draft."""
    texts = re.findall(r'<(?:input|select|textarea)[^>]*? name="([^"]*)"', html)
    texts += re.findall(r'<(?:button|option)[^>]*? value="([^"]*)"', html)
    texts += re.findall(r'<form[^>]*? action="([^"]*)"', html)
    return {word for text in texts for word in re.split(r"[\s./:]+", unescape(text))}


def list_own_keys(check):
    """What this check gives of what some checks have: its kind, and fields with something in."""
    return {check.kind} | {name for name in type(check).model_fields if getattr(check, name)}


def test_every_key_of_a_checklist_can_be_changed_in_a_form(yard):
    fields = {field for model in MODELS for field in model.model_fields}
    keys = fields | set(CHECK_KINDS) - {"tick"}
    lacking = keys - set(NO_CONTROL)
    for checklist in (ID, *ELSEWHERE):
        checks = load_checklist(FOLDER / f"{checklist}.yaml").checks
        for page in ("", "/steps", "/sizes", "/drawing", "/new-check"):
            lacking -= list_controls(yard.client.get(f"/yard/checklists/{checklist}{page}").text)
        for check in checks:
            if list_own_keys(check) & lacking:
                address = f"/yard/checklists/{checklist}/checks/{check.id}"
                lacking -= list_controls(yard.client.get(address).text)
    assert not lacking, "add it to the forms, or to the list with its reason"
    assert set(NO_CONTROL) <= keys
