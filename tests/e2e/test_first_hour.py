"""The first hour: from the one-time link through the guided start to a phone that saves the first
stove.
"""

import re

import pytest
from playwright.sync_api import Page

from qcapp.settings import Settings
from qcapp.usecases.open_store import open_store
from tests.e2e.inspector import Inspector
from tests.e2e.server import YardServer, read_checklist

PEOPLE = (
    ("Ciro", ["is_inspector"], ""),
    ("Ano", ["metalwork", "paint"], "2015-01-01"),
    ("Dodo", ["clay", "firing", "assembly"], "2026-10-01"),
)
CREW = {"metalwork": "A01", "firing": "A02", "assembly": "A02", "paint": "A01"}
WORDS = "river stone lantern"


@pytest.fixture
def empty_server(tmp_path):
    """A server over a database that nobody has touched yet."""
    settings = Settings(database_url=f"sqlite:///{tmp_path / 'yard.db'}", yard_name="My yard")
    open_store(settings).close()
    with YardServer(settings, tmp_path) as server:
        yield server


@pytest.fixture
def laptop(chromium):
    """The lead's laptop."""
    context = chromium.new_context(viewport={"width": 1000, "height": 800})
    yield context.new_page()
    context.close()


def make_account(server: YardServer, page: Page) -> None:
    link = re.search(r"/welcome/[\w-]+", server.log_path.read_text())[0]
    page.goto(server.address + link)
    page.get_by_label("Sign-in code").fill("LEAD")
    page.get_by_label("Your name").fill("Lena")
    page.get_by_label("Password, 12 characters").fill(WORDS)
    page.get_by_label("Repeat the password").fill(WORDS)
    page.get_by_role("button", name="Set the password and sign in").click()
    page.get_by_role("heading", name="Set up the yard").wait_for()


def add_people(page: Page) -> None:
    for name, does, first_day in PEOPLE:
        page.locator("[name=name]").fill(name)
        for box in does:
            page.locator(f"[name={box}], [name=trades][value={box}]").check()
        page.locator("[name=started_on]").fill(first_day)
        page.get_by_role("button", name="Add this person").click()
        page.get_by_role("cell", name=name).wait_for()


def test_from_the_one_time_link_to_the_first_stove(empty_server, laptop, open_phone):
    server, page = empty_server, laptop
    make_account(server, page)
    page.get_by_role("link", name="Continue: Name the yard").click()
    page.get_by_role("button", name="Save the name").click()
    page.get_by_role("alert").get_by_text("The name is empty").wait_for()
    page.locator("[name=name]").fill("Upper yard")
    page.keyboard.press("Enter")
    # Step 2, with the keyboard alone.
    page.get_by_role("heading", name="Sizes and checklists").wait_for()
    page.locator("[name=sizes][value=medium]").focus()
    page.keyboard.press("Space")
    page.locator("[name=checklist_ids][value=finished-stove]").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="People").wait_for()
    add_people(page)
    page.get_by_role("link", name="Next: Crew").click()
    for trade, code in CREW.items():
        page.locator(f"[name='crew.{trade}']").select_option(code)
    page.get_by_role("button", name="Save the crew").click()
    page.get_by_role("heading", name="Open and close batches").wait_for()
    page.locator("[name=planned]").fill("a few")
    page.get_by_role("button", name="Open this batch").click()
    page.get_by_role("alert").get_by_text("This is not a number of stoves").wait_for()
    assert page.locator("[name=planned]").input_value() == "a few", "what was typed stays"
    page.locator("[name=planned]").fill("20")
    page.get_by_role("button", name="Open this batch").click()
    join_and_save(server, page, open_phone().pages[0])
    page.goto(f"{server.address}/yard/practice")
    page.get_by_role("button", name="We have practised").click()
    page.get_by_text("7 of 7 done.").wait_for()
    page.goto(f"{server.address}/batches/B1")
    assert "Upper yard" in page.title()
    page.goto(f"{server.address}/yard/trail")
    told = page.locator("main").inner_text()
    for audit_message in (
        "named the yard",
        "chose sizes and checklists",
        "added a person",
        "named the usual crew",
        "opened a batch",
        "made a join code",
        "practice walk",
    ):
        assert audit_message in told, audit_message
    assert "Ano" not in told and "A01" in told, "the trail names people by code"


def join_and_save(server: YardServer, page: Page, phone: Page) -> None:
    page.get_by_role("button", name="Make a join code").click()
    page.locator("#here-only").wait_for()
    assert not page.locator("figure svg").count(), "no phone reaches an address of this machine"
    code = page.locator(".code").inner_text().replace(" ", "")
    assert len(code) == 8
    inspector = Inspector(phone, read_checklist(server, "finished-stove"))
    inspector.join(server.address, code)
    assert inspector.start_stove() == "B1-001"
    inspector.walk()
    inspector.save()
    for _ in range(100):
        if server.list_events("inspection"):
            page.goto(f"{server.address}/batches/B1")
            page.get_by_role("heading", name="B1").wait_for()
            return
        page.wait_for_timeout(200)
    raise AssertionError("the first stove did not arrive")
