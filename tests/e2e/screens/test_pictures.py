"""The picture of how a check is done: on demand, kept without signal,
and drawn of nothing that could run.
"""

import pytest

from tests.conftest import PHONE
from tests.e2e.inspector import Inspector, show
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

SMALLEST_PX = 150
# The keys need the room.
LEAST_TYPING_PX = 80
CASES = {
    "body": "cloth-along-edge",
    "door-opening": "rule-inside-edges",
    "grate": "lamp-below-holes",
    "liner": "nail-over-crack",
}


@pytest.fixture
def inspector(server, chromium):
    context = chromium.new_context(**PHONE)
    inspector = Inspector(context.new_page(), read_checklist(server, "finished-stove"))
    inspector.errors = []
    inspector.page.on(
        "console",
        lambda message: inspector.errors.append(message.text) if message.type == "error" else None,
    )
    inspector.join(server.address, server.make_code())
    yield inspector
    context.close()


def read_strokes(page):
    return page.eval_on_selector_all(
        ".map svg.picture path, .map svg.picture circle",
        "all => all.map(one => one.getAttribute('d') ?? one.tagName)",
    )


def test_picture_shows_large_beside_the_stove_and_words_in_full_when_asked_for(inspector, checkout):
    page = inspector.page
    inspector.start_stove()
    for part, name in CASES.items():
        show(page, f"#/walk/{part}")
        page.locator(".map svg.picture").wait_for()
        source = (checkout / "checklists" / "pictures" / f"{name}.svg").read_text(encoding="utf-8")
        strokes = read_strokes(page)
        assert strokes and all(stroke in source for stroke in strokes), name
        picture, drawing = (
            page.locator(one).bounding_box() for one in (".map svg.picture", ".map svg.drawing")
        )
        is_typing = page.locator(".typing").count() > 0
        assert picture["width"] >= (LEAST_TYPING_PX if is_typing else SMALLEST_PX), name
        assert picture["y"] >= 0 and drawing["x"] >= picture["x"] + picture["width"] - 1
        words = page.locator(".how p")
        line = words.bounding_box()["height"]
        page.locator("#ui-how").tap()
        page.locator(".how:not(.one-line)").wait_for()
        assert words.bounding_box()["height"] > line, "in full"
        page.locator("#ui-how").tap()
        page.locator(".how.one-line").wait_for()
    assert inspector.errors == [], "the page's policy held back a part of it"


def test_short_screen_shows_the_picture_of_a_reading_when_asked_for(inspector):
    page = inspector.page
    page.set_viewport_size({"width": 320, "height": 568})
    inspector.start_stove()
    show(page, "#/walk/door-opening")
    assert not page.locator(".map").is_visible()
    page.locator("#ui-how").tap()
    page.locator("#ui-now svg.picture").wait_for()


def test_pictures_are_there_without_signal_and_only_those_in_use(inspector):
    page = inspector.page
    inspector.start_stove()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    page.reload()
    page.locator(".map svg.picture").wait_for()
    kept = page.evaluate("""async () => {
      const {readReference} = await import(document.querySelector('script[src$="main.js"]').src.replace('main.js', 'store/local_db.js'));
      const {checklists, drawings} = await readReference();
      return [Object.keys(drawings), checklists.flatMap(({compiled}) => compiled.checks.map((check) => check.picture))];
    }""")
    assert {name for name in kept[0] if name.startswith("pictures/")} == {
        f"pictures/{name}.svg" for name in kept[1] if name
    }


def test_check_without_a_picture_has_its_words(inspector):
    page = inspector.page
    page.evaluate("""async () => {
      const {readReference, saveReference} = await import(document.querySelector('script[src$="main.js"]').src.replace('main.js', 'store/local_db.js'));
      const reference = await readReference();
      await saveReference({...reference, drawings: {'round-stove.svg': reference.drawings['round-stove.svg']}});
    }""")
    page.reload()
    page.get_by_role("button", name=word("today.next")).wait_for()
    inspector.start_stove()
    page.locator("#ui-how").tap()
    page.get_by_text("Wipe a cotton rag over rim").wait_for()
    assert page.locator("svg.picture").count() == 0


def test_picture_turns_with_the_theme(inspector):
    page = inspector.page
    inspector.start_stove()
    page.locator(".map svg.picture").wait_for()
    seen = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        seen.append(
            page.evaluate(
                """() => [document.querySelector('svg.picture'), document.querySelector('svg.picture .clay')]
          .map((one) => getComputedStyle(one).stroke)"""
            )
        )
    assert seen[0][0] != seen[1][0] and seen[0][1] != seen[1][1]
