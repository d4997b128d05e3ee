"""What cannot be measured, and what does not apply to a stove: from the thumb to the server."""

import shutil

import pytest

from tests.conftest import CHECKOUT
from tests.e2e.inspector import send_now, show, wait_settled
from tests.e2e.phone_words import word
from tests.e2e.server import open_small_yard


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A yard whose checklist lets an inspector leave out whether the stove rocks."""
    folder = tmp_path_factory.mktemp("yard")
    checklists = shutil.copytree(CHECKOUT / "checklists", folder / "checklists")
    path = checklists / "finished-stove.yaml"
    text = path.read_text("utf-8")
    at = text.index("    severity:", text.index("- id: leg-rock\n"))
    path.write_text(f"{text[:at]}    may_not_apply: true\n{text[at:]}", "utf-8")
    with open_small_yard(folder, checklists_dir=checklists) as server:
        yield server


def find_record(server, page, serial):
    show(page, "#/today")
    send_now(page)
    for _ in range(100):
        found = [one for one in server.list_events("inspection") if one["stove"] == serial]
        if found:
            return found[-1]["body"]
        page.wait_for_timeout(100)
    raise AssertionError("it did not arrive")


def test_what_cannot_be_measured_is_a_fail_with_fault_and_photo(inspector, server, shot):
    page = inspector.page
    serial = inspector.start_stove()
    show(page, "#/walk/door-opening")
    wait_settled(page).locator("#ui-more").tap()
    page.locator("#ui-cannot-measure").tap()
    page.locator("#ui-fault-cannot-measure[aria-pressed=true]").wait_for()
    assert page.locator("[id^=ui-fault-]").count() == 1, "too wide is not what a torn one is"
    assert not page.locator("#ui-done").is_enabled()
    page.get_by_text(word("fault.needs_proof")).wait_for()
    page.locator("#ui-note").fill("torn")
    assert page.locator("#ui-done").is_enabled()
    page.locator("#ui-photo").set_input_files(shot)
    page.locator("dialog[open] img.photo").wait_for()
    page.locator("#ui-done").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    inspector.walk()
    page.get_by_text(word("fault.cannot_measure")).wait_for()
    assert page.locator("#ui-disposition-rework[aria-pressed=true]").count() == 1
    assert page.locator("#ui-disposition-release").count() == 0
    inspector.save()
    body = find_record(server, page, serial)
    answer = body["answers"]["door-opening-width"]
    assert (answer["mark"], answer["fault"]) == ("cannot_measure", "cannot-measure")
    assert len(answer["photos"]) == 1 and "values" not in answer
    assert (body["verdicts"]["door-opening-width"], body["verdicts"]["door-opening-area"]) == (
        "fail",
        "missing",
    )
    server.sign_in(page.context)
    step = next(
        row
        for row in page.request.get(f"{server.address}/api/trainer/teach").json()
        if row["step"] == "cut-door-opening"
    )
    assert step["experienced"]["failed"] == 1


def test_does_not_apply_is_offered_only_where_the_checklist_allows_it(inspector, server):
    page = inspector.page
    serial = inspector.start_stove()
    for part in ("body", "rivets", "door-opening"):
        show(page, f"#/walk/{part}")
        wait_settled(page).locator("#ui-more").tap()
        page.locator("dialog[open]").wait_for()
        assert page.locator("#ui-not-applicable").count() == 0, part
        page.locator("#ui-done").tap()
        page.locator("dialog[open]").wait_for(state="detached")
    show(page, "#/walk/legs")
    rock = next(one for one in inspector.compiled["checks"] if one["id"] == "leg-rock")
    page.get_by_role("button", name=rock["ask"]["en"]).tap()
    wait_settled(page).locator("#ui-more").tap()
    page.get_by_text(word("fault.not_applicable")).tap()
    page.locator("#ui-note").fill("hangs from a chain")
    page.locator("#ui-not-applicable").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    inspector.walk()
    page.get_by_role("heading", name=word("review.skipped", n=1)).wait_for()
    page.get_by_text("hangs from a chain").wait_for()
    assert page.locator("[id^=ui-disposition-][aria-pressed=true]").count() == 0
    page.locator("#ui-save").tap()
    page.get_by_text(word("review.gap_disposition")).wait_for()
    page.locator("#ui-disposition-release").tap()
    inspector.save()
    body = find_record(server, page, serial)
    assert body["verdicts"]["leg-rock"] == "not_applicable"
    assert body["disposition"] == {"kind": "release"}
