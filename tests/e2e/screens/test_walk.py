"""The screens under a thumb: a phone-sized Chromium with touch, the real server and checklists."""

from collections import Counter
from itertools import pairwise

import pytest
from playwright.sync_api import expect

from tests.e2e.app_modules import with_modules
from tests.e2e.inspector import show, wait_settled
from tests.e2e.phone_words import word

MAX_TAPS = 30
SMALLEST_TARGET_PX = 48
JUDGE_TARGET_PX = 64
SCREENS = (
    "#/review",
    "#/today",
    "#/next",
    "#/rework",
    "#/mine",
    "#/who",
    "#/settings",
    "#/export",
)


@pytest.fixture
def inspector(inspector):
    """Its taps are counted from here."""
    inspector.taps = inspector.readings = 0
    return inspector


def begin(inspector, serial):
    """Starts a stove under a serial of its own, so that tests do not share stoves."""
    page = inspector.page
    page.evaluate("location.hash = '#/next'")
    page.locator("#ui-serial").fill(serial)
    page.locator("#ui-start").tap()
    page.locator("#ui-sure").tap()
    page.locator(".walk").wait_for()


def open_part(page, name):
    show(page, "#/parts")
    page.locator("button.row", has_text=name).tap()
    page.locator(".part-bar h1", has_text=name).wait_for()
    wait_settled(page)


def read_sizes(page, selector):
    return page.eval_on_selector_all(
        selector,
        """found => found.filter(one => one.offsetParent || one.closest('dialog')).map(one => {
          const box = one.getBoundingClientRect();
          return [one.id || one.className || one.textContent, box.width, box.height];
        })""",
    )


def walk_good_stove(inspector):
    """(taps by part, checks in the order answered, ids of those that a group pass took)."""
    page = inspector.page
    inspector.taps = inspector.readings = 0
    inspector.start_stove()
    by_part, order, grouped = Counter(start=inspector.taps), [], set()
    while not page.locator("#ui-save").count():
        part = page.locator(".part-bar h1").inner_text().splitlines()[0]
        asked, before = inspector.find_open(), inspector.taps
        if asked:
            order.append(asked["id"])
        if page.locator("#ui-all").count():
            grouped |= {asked["id"]}
        inspector.answer({})
        by_part[part] += inspector.taps - before
    given = page.evaluate(
        with_modules("""async () => {
      const {listDrafts} = await load('store/local_db.js');
      const {answers} = (await listDrafts()).find((draft) => draft.is_open);
      return Object.entries(answers).filter(([, answer]) => answer.given === "group").map(([id]) => id);
    }""")
    )
    inspector.save()
    by_part["save"] += 1
    return by_part, order, set(given)


def count_tool_changes(checks):
    tools = [check["tool"] for check in checks]
    return sum(one != other for one, other in pairwise(tools))


@pytest.mark.parametrize("order", ["part", "tool"])
def test_good_stove_takes_few_taps(inspector, order):
    page = inspector.page
    checks = {check["id"]: check for check in inspector.compiled["checks"]}
    show(page, "#/settings")
    page.locator(f"#ui-by-{order}").tap()
    page.locator(f"#ui-by-{order}[aria-pressed=true]").wait_for()
    show(page, "#/today")
    by_part, asked, grouped = walk_good_stove(inspector)
    changes = count_tool_changes([checks[check] for check in asked])
    print(
        f"by {order}: {inspector.taps} taps, {inspector.readings} readings, {changes} tool changes"
        f" over {len(asked)} checks, taps by part: {dict(by_part)}"
    )
    assert inspector.readings == 3
    assert inspector.taps == sum(by_part.values()) <= MAX_TAPS
    assert not {check for check in grouped if checks[check]["severity"] == "critical"}
    for check in asked:
        for before in checks[check].get("after", ()):
            assert asked.index(before) < asked.index(check), "rivets before lift, tilt and load"
    tools = {checks[check]["tool"] for check in asked}
    if order == "tool":
        assert changes == len(tools) - 1, "each tool once"
    else:
        assert changes > len(tools) - 1


def test_second_look_asks_only_what_failed_and_may_release(inspector):
    page = inspector.page
    begin(inspector, "L-1")
    inspector.walk({"leg-rock": "fail"})
    inspector.save()
    show(page, "#/rework")
    page.get_by_role("button", name="L-1").tap()
    page.get_by_role("button", name=word("stove.reinspect")).tap()
    expect(page.locator("#ui-now .ask")).to_have_text("Stands without rocking")
    page.locator("#ui-pass").tap()
    page.locator("#ui-disposition-release[aria-pressed=true]").wait_for()
    page.locator("#ui-save").tap()
    page.get_by_role("heading", name=word("saved.title")).wait_for()
    show(page, "#/rework")
    page.get_by_text(word("rework.none")).wait_for()


def test_correction_asks_for_its_reason_and_void_takes_the_record_out(inspector):
    page = inspector.page
    begin(inspector, "C-1")
    inspector.walk()
    inspector.save()
    show(page, "#/mine")
    page.get_by_role("button", name="C-1").tap()
    page.get_by_role("button", name=word("stove.correct")).tap()
    page.locator("#ui-save").tap()
    page.get_by_text(word("review.gap_correction")).wait_for()
    page.locator("#ui-correction").fill("read the wrong stove")
    page.locator("#ui-save").tap()
    page.get_by_role("heading", name=word("saved.title")).wait_for()
    stage = inspector.compiled["stage"]
    show(page, f"#/stove/{stage}%2FC-1")
    page.get_by_text(word("stove.corrected", n=1)).wait_for()
    page.get_by_text(word("stove.void")).tap()
    page.locator("textarea").fill("stove does not exist")
    page.get_by_role("button", name=word("stove.void_do")).tap()
    page.get_by_text(word("stove.voided")).wait_for()


def test_failed_save_says_so_and_keeps_the_answers(inspector):
    page = inspector.page
    begin(inspector, "N-1")
    inspector.walk({"sharp-edges": "fail"})
    page.evaluate("""() => {
      window.keptAdd = IDBObjectStore.prototype.add;
      IDBObjectStore.prototype.add = () => { throw new DOMException("disk full", "QuotaExceededError"); };
    }""")
    page.locator("#ui-save").tap()
    page.get_by_role("heading", name=word("not_saved.title")).wait_for()
    page.get_by_role("button", name=word("not_saved.back")).tap()
    page.locator(".card", has_text="Cloth slides over every edge").wait_for()
    page.locator("#ui-save").tap()
    page.get_by_text(word("not_saved.QuotaExceededError")).wait_for()
    page.get_by_role("link", name=word("export.title")).tap()
    page.get_by_role("button", name=word("export.save")).wait_for()
    page.get_by_role("link", name=word("page.back")).tap()
    page.locator(".card", has_text="Cloth slides over every edge").wait_for()
    page.locator("#ui-save").tap()
    page.get_by_role("heading", name=word("not_saved.title")).wait_for()
    page.evaluate("() => { IDBObjectStore.prototype.add = window.keptAdd; }")
    page.get_by_role("button", name=word("not_saved.retry")).tap()
    page.get_by_role("heading", name=word("saved.title"), exact=True).wait_for()


def test_critical_fault_is_never_released(inspector):
    begin(inspector, "K-1")
    inspector.walk({"handle-pull": "fail"})
    page = inspector.page
    page.get_by_text(word("review.why_critical")).wait_for()
    offered = page.eval_on_selector_all(
        "[id^=ui-disposition-]", "found => found.map(one => one.id)"
    )
    assert offered == ["ui-disposition-rework", "ui-disposition-hold", "ui-disposition-scrap"]


@pytest.mark.parametrize(
    ("part", "next_ask"),
    [("Handles", "Legs carry 20 kg for one minute"), ("Pot rests", "Pot rests bent flush by hand")],
)
def test_second_tap_of_a_quick_thumb_does_not_pass_the_next_check(inspector, part, next_ask):
    page = inspector.page
    begin(inspector, f"Q-{part}")
    open_part(page, part)
    box = page.locator("#ui-pass").bounding_box()
    where = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*where)
    page.touchscreen.tap(*where)
    page.locator("#ui-now", has_text=next_ask).wait_for()
    wait_settled(page)
    assert page.locator("#ui-now .ask").inner_text() == next_ask


def test_pass_all_waits_for_the_readings_of_the_part(inspector):
    page = inspector.page
    begin(inspector, "A-1")
    open_part(page, "Door opening")
    page.get_by_role("button", name="Edges of the opening turned").tap()
    page.locator("#ui-pass").wait_for()
    assert page.locator("#ui-all").count() == 0


def test_tap_on_the_drawing_opens_the_part(inspector):
    page = inspector.page
    begin(inspector, "D-1")
    wait_settled(page)
    box = page.locator("#legs .hit").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.locator(".part-bar h1", has_text="Legs").wait_for()
    assert "lit" in page.locator("#legs").get_attribute("class")


def test_impossible_value_is_not_taken(inspector):
    page = inspector.page
    begin(inspector, "V-1")
    open_part(page, "Door opening")
    for digit in "999":
        page.locator(f"#ui-key-{digit}").tap()
    page.get_by_text(word("pad.impossible")).wait_for()
    page.locator("#ui-key-ok").tap(force=True)
    wait_settled(page)
    assert page.locator("#ui-now .ask").inner_text() == "Width of the door opening"
    assert page.locator("output").inner_text().startswith("999")


def test_photo_that_did_not_come_is_asked_for_again_after_a_restart(inspector):
    page = inspector.page
    begin(inspector, "P-1")
    page.locator("#ui-fail").tap()
    with page.expect_file_chooser():
        page.locator("label[for=ui-photo]").tap()
    page.wait_for_timeout(200)
    page.reload()
    page.get_by_text(word("fault.photo_lost")).wait_for()
    page.locator("dialog[open]").wait_for()


def test_insecure_address_records_nothing(server, phone_page):
    phone_page.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    phone_page.goto(f"{server.address}/phone/")
    phone_page.get_by_role("heading", name=word("insecure.title")).wait_for()
    assert phone_page.locator("button, input").count() == 0


@pytest.mark.parametrize(("width", "height", "text"), [(320, 568, "100%"), (360, 640, "200%")])
def test_nothing_is_cut_off_and_targets_fit_a_thumb(inspector, width, height, text):
    page = inspector.page
    page.set_viewport_size({"width": width, "height": height})
    begin(inspector, f"T-{width}")
    page.evaluate(
        "size => document.documentElement.style.setProperty('font-size', size, 'important')",
        f"calc(1.125 * {text})",
    )
    parts = ["Body", "Door opening", "Grate", "Legs"]
    for place in ["#/parts", *parts, *SCREENS]:
        show(page, place) if place.startswith("#") else open_part(page, place)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, place
        small = [
            one
            for one in read_sizes(page, "button, a, summary")
            if min(one[1:]) < SMALLEST_TARGET_PX - 0.01
        ]
        assert not small, f"{place}: {small}"
    assert all(
        height_px >= JUDGE_TARGET_PX for _name, _width, height_px in read_sizes(page, ".big")
    )
