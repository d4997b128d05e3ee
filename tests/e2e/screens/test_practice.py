"""A practice walk on the real screens: the same questions, and not a trace of it on the phone or
the server.
"""

import pytest

from tests.conftest import PHONE
from tests.e2e.app_modules import with_modules
from tests.e2e.inspector import Inspector, open_rest, show, wait_unsent
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

MARK = word("practice.mark")
# Everything this phone keeps, but what a contact with the server writes by itself.
READ_KEPT = with_modules("""async () => {
  const {withStores, ask} = await load('store/db.js');
  const names = ["drafts", "events", "photos"];
  const numbers = ["dev_seq", "unsent_photo_bytes"];
  const kept = await withStores([...names, "meta"], "readonly", (stores) => Promise.all([
    ...names.map(async (name) => [name, await ask(stores[name].getAll())]),
    ...numbers.map(async (name) => [name, await ask(stores.meta.get(name))])]));
  return JSON.stringify({
    ...Object.fromEntries(kept),
    counts: localStorage.getItem("qcapp.counts"),
    local: localStorage.length,
    session: sessionStorage.length});
}""")


@pytest.fixture
def inspector(server, chromium):
    """On the first screen after joining: nobody has said yet who inspects."""
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    page.goto(f"{server.address}/phone/#join={server.make_code()}")
    page.get_by_role("button", name=word("join.go")).tap()
    page.get_by_role("button", name="Ciro").wait_for()
    yield Inspector(page, read_checklist(server, "finished-stove"), size="small")
    context.close()


def practise(page):
    show(page, "#/practice")
    page.get_by_role("heading", name=MARK).wait_for()
    page.get_by_role("button", name="Finished stove").tap()
    page.locator(".walk").wait_for()


def count_log(server):
    return len(server.read_log())


def choose_ciro(page):
    show(page, "#/who")
    page.get_by_role("button", name="Ciro").tap()
    page.get_by_role("button", name=word("today.next")).wait_for()


def save_real_stove(inspector):
    choose_ciro(inspector.page)
    real = Inspector(inspector.page, inspector.compiled)
    serial = real.start_stove()
    real.walk()
    real.save()
    wait_unsent(inspector.page, 0)
    return serial


def test_practice_leaves_nothing_in_outbox_log_counts_or_drafts(inspector, server):
    page = inspector.page
    serial = save_real_stove(inspector)
    Inspector(page, inspector.compiled).start_stove()
    page.locator("#ui-pass").tap()
    show(page, "#/parts")
    page.get_by_role("button", name=word("walk.pause")).tap()
    page.get_by_role("button", name=word("today.resume", stove="")).wait_for()
    before, logged = page.evaluate(READ_KEPT), count_log(server)
    sent = []
    page.on(
        "request", lambda request: sent.append(request.url) if request.method != "GET" else None
    )
    open_rest(page)
    page.get_by_role("link", name=word("practice.title")).tap()
    practise(page)
    inspector.walk({"sharp-edges": "fail"})
    assert page.locator(".practice").inner_text() == MARK
    assert page.evaluate(READ_KEPT) == before
    page.locator("#ui-save").tap()
    page.get_by_text(word("practice.would")).wait_for()
    for words in (MARK, "Rework", "Cloth slides over every edge"):
        page.get_by_text(words).first.wait_for()
    page.get_by_role("button", name=word("saved.today")).tap()
    page.get_by_role("button", name=word("today.resume", stove="")).wait_for()
    assert page.locator(".practice").count() == 0
    assert page.evaluate(READ_KEPT) == before and '"created":1' in before.replace("\\", "")
    assert (sent, count_log(server)) == ([], logged)
    page.get_by_role("button", name=word("today.next")).tap()
    page.locator("#ui-serial").wait_for()
    assert page.locator("#ui-serial").input_value() not in ("", serial), (
        "the number after the real one, not after the practice"
    )


def test_every_screen_of_a_practice_says_that_nothing_is_kept(inspector):
    page = inspector.page
    practise(page)
    for route in ("#/walk/door-opening", "#/parts", "#/review", "#/walk/grate"):
        show(page, route)
        assert page.locator(".practice").inner_text() == MARK, route
        box = page.locator(".practice").bounding_box()
        assert box["y"] == 0 and box["height"] >= 20, route
    assert page.get_by_role("button", name=word("walk.pause")).count() == 0
    show(page, "#/walk/body")
    page.locator("#ui-fail").tap()
    page.locator("dialog[open]").wait_for()
    assert page.locator("#ui-photo").count() == 0, "a photo would be kept"
    assert page.locator(".practice").bounding_box()["height"] >= 20


def test_practice_needs_nobody_named_and_opens_no_other_door(inspector):
    page = inspector.page
    practise(page)
    inspector.walk()
    page.locator("#ui-save").tap()
    page.get_by_text(word("disposition.release")).wait_for()
    page.get_by_role("button", name=word("saved.today")).tap()
    page.get_by_role("heading", name=word("who.title")).wait_for()
    for route in ("#/walk/body", "#/review", "#/parts", "#/next"):
        show(page, route)
        page.get_by_role("heading", name=word("who.title")).wait_for()
        assert page.locator(".walk, #ui-save, #ui-serial").count() == 0, route


@pytest.mark.parametrize("leave", ["reload", "home", "throw away"])
def test_practice_left_in_the_middle_is_gone(inspector, leave):
    page = inspector.page
    choose_ciro(page)
    before = page.evaluate(READ_KEPT)
    practise(page)
    page.locator("#ui-pass").tap()
    if leave == "reload":
        page.reload()
    elif leave == "home":
        show(page, "#/today")
    else:
        show(page, "#/parts")
        page.get_by_text(word("walk.discard")).tap()
        page.get_by_role("button", name=word("walk.discard_do"), exact=True).tap()
    page.get_by_role("button", name=word("today.next")).wait_for()
    assert page.get_by_role("button", name=word("today.resume", stove="")).count() == 0
    show(page, "#/review")
    page.get_by_role("button", name=word("today.next")).wait_for()
    assert page.locator(".practice").count() == 0
    assert page.evaluate(READ_KEPT) == before


def test_practice_before_joining_says_what_is_missing(server, phone_page):
    phone_page.goto(f"{server.address}/phone/#/practice")
    phone_page.get_by_text(word("practice.none")).wait_for()
    phone_page.get_by_role("link", name=word("page.back")).tap()
    phone_page.get_by_role("button", name=word("join.go")).wait_for()
