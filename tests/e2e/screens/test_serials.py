"""Serials as they are typed: however written they mean one stove, and a probable slip is asked
about.
"""

from tests.e2e.inspector import show, wait_settled
from tests.e2e.phone_words import word


def begin(inspector, serial):
    page = inspector.page
    show(page, "#/next")
    page.locator("#ui-serial").fill(serial)
    page.locator("#ui-start").tap()


def save_stove(inspector, serial, faults=None):
    begin(inspector, serial)
    inspector.page.locator(".walk").wait_for()
    inspector.walk(faults)
    inspector.save()


def test_known_stove_is_opened_however_its_serial_is_typed(inspector, server):
    page = inspector.page
    save_stove(inspector, "B1-005")
    for typed in ("b1 5", "Bl-OO5", " B1-0005"):
        begin(inspector, typed)
        page.locator("section.ledger").wait_for()
        assert page.locator("h1").inner_text() == "B1-005", typed
    show(page, "#/next")
    assert page.locator("#ui-serial").input_value() == "B1-006"
    begin(inspector, "b1-6")
    page.locator(".walk").wait_for()
    inspector.answer({})
    show(page, "#/today")
    begin(inspector, "B1-OO6")
    page.locator(".walk").wait_for()
    assert page.locator(".part-bar b").inner_text() == "b1-6", (
        "goes on, named as it was typed first"
    )


def test_serial_of_another_form_or_number_asks_before_it_starts(inspector):
    page = inspector.page
    for typed, words in (
        ("B2-001", word("next.odd_prefix", stove="B2-001", prefix="B1-")),
        ("B1-210", word("next.odd_range", stove="B1-210", n=20)),
    ):
        begin(inspector, typed)
        page.get_by_text(words).wait_for()
        assert page.locator(".walk").count() == 0
        page.locator("#ui-serial").fill("B1-009")
        assert page.locator("#ui-odd").count() == 0, "another serial is another question"
    begin(inspector, "B1-210")
    page.locator("#ui-sure").tap()
    page.locator(".walk").wait_for()
    assert page.locator(".part-bar b").inner_text() == "B1-210"
    show(page, "#/next")
    assert page.locator("#ui-serial").input_value() != "B1-211", "an odd one leads nowhere"


def test_voided_stove_is_not_done_and_can_be_begun_again(inspector):
    page = inspector.page
    save_stove(inspector, "B1-012")
    show(page, "#/today")
    done = page.locator("#ui-figure-done[data-n]")
    before = int(done.get_attribute("data-n"))
    show(page, "#/stove/finished%2FB1-012")
    page.get_by_text(word("stove.void")).tap()
    page.locator("textarea").fill("stove does not exist")
    page.get_by_role("button", name=word("stove.void_do")).tap()
    page.get_by_text(word("stove.voided")).wait_for()
    show(page, "#/today")
    page.locator(f"#ui-figure-done[data-n='{before - 1}']").wait_for()
    begin(inspector, "B1-012")
    page.locator(".walk").wait_for()


def test_record_corrected_to_rework_is_in_the_list_of_those_that_wait(inspector):
    page = inspector.page
    save_stove(inspector, "B1-015")
    show(page, "#/stove/finished%2FB1-015")
    page.get_by_role("button", name=word("stove.correct")).tap()
    page.locator("#ui-save").wait_for()
    show(page, "#/walk/legs")
    page.get_by_role("button", name="Stands without rocking").tap()
    wait_settled(page).locator("#ui-fail").tap()
    page.locator("dialog [id^=ui-fault-]").first.tap()
    page.locator("#ui-done").tap()
    show(page, "#/review")
    page.locator("#ui-disposition-rework").tap()
    page.locator("#ui-correction").fill("looked at another one")
    inspector.save()
    show(page, "#/rework")
    page.get_by_role("button", name="B1-015").wait_for()


def test_unpainted_batch_asks_for_no_painter(inspector):
    show(inspector.page, "#/next")
    inspector.page.locator("#ui-trade-metalwork").wait_for()
    assert inspector.page.locator("#ui-trade-paint").count() == 0
