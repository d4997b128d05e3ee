"""The laptop's pages with the keyboard alone: everything is reached in turn, shows that it is,
and works.
"""

import pytest

from qcapp.store import log

PAGES = (
    "/",
    "/trainer",
    "/trainer/steps",
    "/trainer/inspectors",
    "/trainer/lessons",
    "/trainer/drift",
    "/batches",
    "/batches/B1",
    "/yard",
    "/yard/people",
    "/yard/batches",
    "/yard/checklists/finished-stove/drawing",
    "/yard/limits",
    "/yard/studies",
    "/yard/entry",
    "/yard/accounts",
)
# What a sighted mouse user could press. Of radio buttons with one name the arrows reach the others.
LIST = """() => {
    const kinds = ["a[href]", "button", "input:not([type=hidden])", "select", "textarea", "summary",
        "[tabindex='0']"];
    const isPressed = (one) => !one.disabled && one.type !== "radio"
        && one.checkVisibility({ visibilityProperty: true });
    return [...document.querySelectorAll(kinds.join())].filter(isPressed).length; }"""
# Marks what has the focus; gives whether it is new, and whether one sees it.
STEP = """() => { const one = document.activeElement;
    if (!one || one === document.body) return null;
    const isNew = !one.dataset.reached && one.type !== "radio";
    one.dataset.reached = "1";
    const { outlineStyle, outlineWidth } = getComputedStyle(one);
    const isSeen = outlineStyle !== "none" && parseFloat(outlineWidth) >= 2;
    return [isNew, isSeen, one.outerHTML.slice(0, 120)]; }"""


@pytest.fixture
def page(chromium, demo):
    context = chromium.new_context(viewport={"width": 1000, "height": 800})
    demo.sign_in(context)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("address", PAGES)
def test_tab_reaches_everything_and_one_sees_where_one_is(page, demo, address):
    page.goto(demo.address + address)
    wanted, reached, unseen = page.evaluate(LIST), 0, []
    for _ in range(2 * wanted + 50):
        page.keyboard.press("Tab")
        found = page.evaluate(STEP)
        if found is None:
            break
        is_new, is_seen, what = found
        reached += is_new
        unseen += [] if is_seen else [what]
    assert (reached, unseen) == (wanted, [])


def test_skip_link_leads_past_the_rooms(page, demo):
    page.goto(demo.address + "/trainer")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")


def test_a_lesson_is_recorded_without_a_mouse(page, demo):
    page.goto(demo.address + "/trainer/lessons")
    page.locator("select[name=step]").focus()
    page.keyboard.press("ArrowDown")
    chosen = page.locator("select[name=step]").input_value()
    people = page.locator("input[name=people]").first
    people.focus()
    page.keyboard.press("Space")
    page.locator("form[action='/trainer/lessons'] button").last.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    store = demo.open_store()
    with store.reading() as connection:
        steps = [event["body"].get("step") for event in log.list_by_kind(connection, "lesson")]
    store.close()
    assert chosen and chosen in steps
