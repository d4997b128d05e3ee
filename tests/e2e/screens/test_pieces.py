"""The liner that goes into a stove: one small field that may stay empty, from the thumb to the
server's figures.
"""

import pytest

from qcapp.store.registry.batches import save_batches
from tests.e2e.inspector import Inspector, send_now, show, wait_unsent
from tests.e2e.phone_words import word
from tests.e2e.server import BATCH, read_checklist

LINER = "#ui-piece-fired-liner"


@pytest.fixture
def inspector(server, phone_page):
    """In a yard that inspects fired liners too."""
    store = server.open_store()
    with store.writing() as connection:
        save_batches(connection, [{**BATCH, "checklist_ids": ["finished-stove", "fired-liner"]}])
    store.close()
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    return inspector


def open_form(inspector):
    page = inspector.page
    page.locator("#ui-next").tap()
    page.get_by_role("button", name="Finished stove").tap()
    page.locator("#ui-serial").wait_for()


def finish(inspector):
    inspector.page.locator("#ui-start").tap()
    inspector.page.locator(".walk").wait_for()
    inspector.walk()
    inspector.save()
    show(inspector.page, "#/today")


def test_the_liners_serial_reaches_the_server_and_may_be_left_out(server, inspector):
    page = inspector.page
    open_form(inspector)
    field = page.locator(LINER)
    box = field.bounding_box()
    assert box["height"] >= 48 and box["x"] + box["width"] <= page.viewport_size["width"]
    assert word("next.piece", piece=word("piece.fired-liner")) in page.locator("main").inner_text()
    field.fill(" B1-L007 ")
    finish(inspector)
    open_form(inspector)
    finish(inspector)
    send_now(page)
    wait_unsent(page, 0)
    first, second = server.list_events("inspection")
    assert first["body"]["made_from"] == {"fired-liner": "B1-L007"}
    assert "made_from" not in second["body"]
    show(page, f"#/stove/finished%2F{first['stove']}")
    page.get_by_text("Liner: B1-L007").wait_for()
    server.sign_in(page.context)
    page.goto(f"{server.address}/trainer/pieces")
    words = page.locator("main").inner_text()
    assert "2 stoves" in words and "1 serial was entered for a piece that nobody inspected" in words


def test_a_yard_that_inspects_no_liners_is_not_asked_for_one(server, phone_page):
    store = server.open_store()
    with store.writing() as connection:
        save_batches(connection, [BATCH])
    store.close()
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    phone_page.locator("#ui-next").tap()
    phone_page.locator("#ui-serial").wait_for()
    assert phone_page.locator(LINER).count() == 0
