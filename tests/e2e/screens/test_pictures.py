"""The picture of how a check is done, and those of what its faults and options look like: kept
without signal, large enough to be told apart, drawn of nothing that could run.
"""

import pytest

from tests.conftest import PHONE
from tests.e2e.app_modules import with_modules
from tests.e2e.inspector import Inspector, show, wait_settled
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

SMALLEST_PX = 150
# The keys need the room.
LEAST_TYPING_PX = 80
LEAST_TILE_PX, LEAST_PICTURE_PX = 48, 72
# Width, height, text in per cent; in how many columns faults then stand.
SIZES = (
    (320, 568, 100, 2),
    (360, 560, 100, 2),
    (360, 640, 130, 2),
    (360, 640, 200, 1),
    (640, 360, 100, 4),
)
ENLARGE = "size => document.documentElement.style.setProperty('font-size', size, 'important')"
RIVETS = ("rivet-loose", "rivet-cracked", "rivet-sharp", "rivet-fallen")
CRACKS = (
    *("crack-none", "crack-hairline-allowed", "crack-nail", "crack-rim"),
    *("crack-holes", "liner-piece-loose"),
)
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
    kept = page.evaluate(
        with_modules("""async () => {
      const {readReference} = await load('store/local_db.js');
      const {checklists, drawings} = await readReference();
      return [Object.keys(drawings), checklists.flatMap(({compiled}) => compiled.checks.flatMap(
        (check) => [check, ...check.faults, ...(check.options ?? [])].map(({picture}) => picture)))];
    }""")
    )
    assert {name for name in kept[0] if name.startswith("pictures/")} == {
        f"pictures/{name}.svg" for name in kept[1] if name
    }


def enlarge(page, width, height, text):
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate(ENLARGE, f"calc(1.125 * {text}%)")
    page.wait_for_timeout(100)


READ_TILES = """(all) => all.map((tile) => {
  const boxOf = (one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    return { x, y, width, height };
  };
  const picture = boxOf(tile.querySelector('svg.picture'));
  const tick = tile.querySelector('.box')?.getBoundingClientRect();
  const strokes = [...tile.querySelectorAll('path, circle')];
  return {
    words: tile.textContent,
    own: boxOf(tile),
    picture,
    isCut: tile.scrollWidth > tile.clientWidth,
    isCovered: tick !== undefined && tick.right > picture.x,
    strokes: strokes.map((one) => one.getAttribute('d') ?? one.tagName),
  };
})"""


def read_tiles(page):
    """Of each choice: its words, the box of the button, that of the picture, what is cut."""
    return page.eval_on_selector_all(".look", READ_TILES)


def check_tiles(page, checkout, names, columns):
    tiles = read_tiles(page)
    for tile, name in zip(tiles, names, strict=True):
        source = (checkout / "checklists" / "pictures" / f"{name}.svg").read_text(encoding="utf-8")
        assert tile["strokes"] and all(one in source for one in tile["strokes"]), name
        assert min(tile["own"]["width"], tile["own"]["height"]) >= LEAST_TILE_PX, tile
        assert tile["picture"]["width"] >= LEAST_PICTURE_PX, tile
        assert not tile["isCut"] and not tile["isCovered"], tile
    assert len({tile["own"]["x"] for tile in tiles}) == columns
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    return tiles


def test_fault_is_chosen_by_its_picture_without_signal_and_stands_on_its_card(inspector, checkout):
    page = inspector.page
    inspector.start_stove()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    show(page, "#/walk/rivets")
    wait_settled(page).locator("#ui-fail").tap()
    page.locator("dialog[open] .look").first.wait_for()
    for width, height, text, columns in SIZES:
        enlarge(page, width, height, text)
        check_tiles(page, checkout, RIVETS, columns)
    enlarge(page, 320, 568, 100)
    bottom = page.locator(".sheet-content").bounding_box()
    tiles = read_tiles(page)
    assert all(
        tile["own"]["y"] + tile["own"]["height"] <= bottom["y"] + bottom["height"] for tile in tiles
    ), "all are seen at once on the smallest phone"
    page.locator("#ui-fault-rivet-sharp").tap()
    filled = page.locator("#ui-fault-rivet-sharp[aria-pressed=true] .box")
    assert "gradient" in filled.evaluate("one => getComputedStyle(one).backgroundImage")
    page.locator("#ui-done").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    show(page, "#/review")
    page.locator(".card .card-where svg.picture").wait_for()
    assert page.locator(".card svg.picture").count() == 1
    assert inspector.errors == [], "the page's policy held back a part of it"


def test_option_is_chosen_by_its_picture_on_the_smallest_phone(inspector, checkout):
    page = inspector.page
    page.set_viewport_size({"width": 320, "height": 568})
    show(page, "#/practice")
    page.get_by_role("button", name="Fired liner", exact=True).tap()
    page.locator(".walk").wait_for()
    page.locator(".walk li button", has_text="Cracks, wiped with water").first.tap()
    page.locator("#ui-option-hole-to-hole").wait_for()
    tiles = check_tiles(page, checkout, CRACKS, 2)
    assert all(tile["own"]["y"] + tile["own"]["height"] <= 568 for tile in tiles)
    assert page.locator(".now .ask").bounding_box()["y"] > 0
    page.locator("#ui-option-hole-to-hole").tap()
    page.locator("dialog[open]").wait_for()


def test_check_without_a_picture_has_its_words(inspector):
    page = inspector.page
    page.evaluate(
        with_modules("""async () => {
      const {readReference, saveReference} = await load('store/local_db.js');
      const reference = await readReference();
      const name = 'round-stove.svg';
      await saveReference({...reference, drawings: {[name]: reference.drawings[name]}});
    }""")
    )
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
