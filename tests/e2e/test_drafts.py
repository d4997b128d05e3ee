"""A lead who has never seen a YAML file changes a checklist in the browser: a new check with limits,
placed on the drawing by a tap, moved; another retired; a fault, a size; read, practised, published.
"""

import json
import re

import pytest
from playwright.sync_api import Page

from tests.conftest import PHONE
from tests.e2e.app_modules import wait_for_answer, with_modules
from tests.e2e.inspector import Inspector, show
from tests.e2e.phone_words import word
from tests.e2e.screens.test_practice import READ_KEPT
from tests.e2e.server import YardServer, read_checklist

PAGE = "/yard/checklists/finished-stove"
KEY = "checks.height-of-the-ash-door.measure"
READ_LISTS = with_modules("""async () => {
  const {withStores, ask} = await load('store/db.js');
  return withStores(["reference"], "readonly", ({reference}) => ask(reference.getAllKeys()));
}""")

HAS_CHECK = with_modules("""async (check) => {
  const {withStores, ask} = await load('store/db.js');
  const kept = await withStores(
    ["reference"], "readonly", ({reference}) => ask(reference.get("current")));
  return JSON.stringify(kept).includes(check);
}""")


@pytest.fixture
def laptop(chromium, server):
    """The lead's laptop."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    server.sign_in(context)
    yield context.new_page()
    context.close()


def add_check(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("link", name="Add a check").click()
    page.get_by_role("link", name="Measure one number").click()
    page.get_by_label("Question").fill("Height of the ash door")
    page.get_by_label("How it is done").fill("Steel rule, inside edge to inside edge.")
    page.get_by_label("What is wrong when it fails").fill("Too low")
    page.get_by_label("Part", exact=True).select_option("a new part")
    page.get_by_label("Name of the new part").fill("Ash door")
    page.get_by_label("Step that causes its faults").select_option("Make and hang the door")
    page.get_by_role("button", name="Add the check").click()
    page.get_by_text("No limit yet: fill in at least, at most, or both.").first.wait_for()
    for size in ("small", "medium", "large"):
        page.locator(f"[name='{KEY}.limits.{size}.lower']").fill("40,5")
    page.locator(f"[name='{KEY}.possible.lower']").fill("0")
    page.locator(f"[name='{KEY}.possible.upper']").fill("200")
    page.locator("#numbers").get_by_role("button", name="Save in the draft").click()


def tap_on_drawing(page: Page, address: str) -> None:
    """The middle of what is drawn, which is at 170, 108 of 340 by 216."""
    page.goto(f"{address}/drawing")
    page.get_by_text("This part is not on the drawing yet").wait_for()
    page.get_by_label("Place this part").select_option("Ash door – not placed yet")
    page.locator("#drawing svg").click()
    across, down = (float(page.locator(f"#f-{name}").input_value()) for name in ("x", "y"))
    assert abs(across - 170) < 2 and abs(down - 108) < 2
    assert page.locator("#drawing .aim").get_attribute("cx") == f"{across:g}"
    page.get_by_role("button", name="Place it here").click()
    page.get_by_text(re.compile(r"placed at 1(69|70|71)")).wait_for()


def change_lists(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("button", name="Retire “Paint dry”").click()
    page.get_by_role("button", name="Move “Height of the door opening” up").click()
    page.get_by_role("link", name="Door follows the body and covers").click()
    page.get_by_text("Add a fault", exact=True).click()
    page.get_by_label("What is wrong, in a few words").fill("Door rubs")
    page.get_by_role("button", name="Add the fault").click()
    page.get_by_role("link", name="Sizes", exact=True).click()
    page.get_by_label("Name of the new size").fill("Giant")
    page.get_by_label("Begin with the limits of").select_option("large")
    page.get_by_role("button", name="Add the size").click()


def read_changes(page: Page) -> str:
    page.get_by_role("link", name="Read the changes").click()
    page.get_by_role("heading", name="What changes").wait_for()
    return page.locator(".draft-changes").inner_text()


def test_lead_changes_practises_and_publishes_a_checklist(
    server: YardServer, laptop: Page, chromium
) -> None:
    page, address = laptop, f"{server.address}{PAGE}"
    before = read_checklist(server, "finished-stove")
    add_check(page, address)
    tap_on_drawing(page, address)
    change_lists(page, address)
    words = read_changes(page)
    for sentence in (
        "Limits, size giant: at least 40.5 mm",
        "This check is retired: nobody is asked it any more",
        "Moves: it comes after “Height of the door opening” now",
        "New fault: Door rubs",
        "New size: “giant”",
    ):
        assert sentence in words, (sentence, words)
    page.get_by_role("button", name="Make a link to practise").click()
    link = page.get_by_role("link", name="Practise it on this machine").get_attribute("href")

    context = chromium.new_context(**PHONE)
    phone = context.new_page()
    Inspector(phone, before).join(server.address, server.make_code())
    practise(phone, f"{server.address}{link}")
    assert read_checklist(server, "finished-stove") == before

    publish(page, server, before["revision"] + 1)
    inspect_by_the_new_one(phone, server)
    context.close()


def practise(phone: Page, link: str) -> None:
    """The draft's new size and check are tried, and the phone keeps nothing of it."""
    kept, lists = phone.evaluate(READ_KEPT), phone.evaluate(READ_LISTS)
    phone.goto(link)
    phone.get_by_text(word("practice.draft")).wait_for()
    phone.get_by_role("button", name="giant").tap()
    phone.locator(".walk").wait_for()
    show(phone, "#/walk/ash-door")
    phone.get_by_text("Height of the ash door").first.wait_for()
    assert phone.locator(".practice").inner_text() == word("practice.mark")
    assert phone.locator("svg.drawing #ash-door").count() == 1
    assert (phone.evaluate(READ_KEPT), phone.evaluate(READ_LISTS)) == (kept, lists)
    assert json.loads(kept)["events"] == []


def publish(page: Page, server: YardServer, number: int) -> None:
    page.get_by_role("button", name="Publish these").click()
    page.get_by_text(f"Revision {number}, the yard's own").wait_for()
    compiled = read_checklist(server, "finished-stove")
    assert compiled["revision"] == number and compiled["sizes"][-1] == "giant"


def inspect_by_the_new_one(phone: Page, server: YardServer) -> None:
    phone.goto(f"{server.address}/phone/")
    wait_for_answer(phone, HAS_CHECK, "height-of-the-ash-door")
    phone.reload()
    Inspector(phone, read_checklist(server, "finished-stove")).start_stove()
    show(phone, "#/walk/ash-door")
    phone.get_by_text("Height of the ash door").first.wait_for()
