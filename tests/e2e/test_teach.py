"""The trainer's question on the first screen: which step, how sure, who, why, and what to do."""

import pytest
from playwright.sync_api import expect

from tests.conftest import PHONE

STEP = "/trainer/steps/finished-stove/cut-door-opening"
# What the first screen must hold, each by where it is found.
WANTED = (
    ".focus h2 a",
    ".focus .chart rect.bar >> nth=0",
    ".focus .chart rect.bar >> nth=1",
    ".focus .chart path.ends >> nth=0",
    ".focus .names li >> nth=-1",
    ".focus-photo img",
    ".focus a[href^='/trainer/lessons'] >> nth=0",
    ".focus a.button",
    ".focus button[data-print]",
)
# All of the page on a phone, in pixels: it was 21,000 while every step stood there in full.
MAX_HEIGHT = 6000


@pytest.fixture
def open_page(chromium, demo):
    contexts = []

    def open_page(**device):
        contexts.append(chromium.new_context(**device))
        demo.sign_in(contexts[-1])
        return contexts[-1].new_page()

    yield open_page
    for context in contexts:
        context.close()


def test_first_screen_holds_the_step_to_teach_and_a_phone_is_not_moved_sideways(open_page, demo):
    page = open_page(viewport={"width": 1280, "height": 800})
    page.goto(demo.address + "/trainer")
    for place in (*WANTED, "#last-lesson + p"):
        box = page.locator(place).first.bounding_box()
        assert box and box["y"] >= 0 and box["y"] + box["height"] <= 800, place
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    page.locator("button[data-print]").click()
    expect(page).to_have_title("printed")
    phone = open_page(**{**PHONE, "viewport": {"width": 360, "height": 640}})
    for address in ("/trainer", STEP):
        phone.goto(demo.address + address)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360
    phone.goto(demo.address + "/trainer")
    assert phone.evaluate("document.documentElement.scrollHeight") <= MAX_HEIGHT
    for place in (*WANTED[:3], ".focus a.button", ".focus button[data-print]"):
        box = phone.locator(place).first.bounding_box()
        assert box["y"] + box["height"] <= 640, place
