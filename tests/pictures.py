"""Makes the pictures of the README and the guide from the running app: python3 tests/pictures.py
(from tests/.venv).

Each picture carries the words its screen showed; tests/e2e/test_guide_pictures.py walks the same
way and compares them.
"""

import re
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from tests.e2e.inspector import wait_settled

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from PIL import Image, PngImagePlugin
from playwright.sync_api import Browser, Page, sync_playwright

from qcapp.settings import Settings
from qcapp.usecases.fill_demo import give_to_buyer, prepare_demo
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.inspector import Inspector
from tests.e2e.server import LaptopServer, YardServer, open_small_yard, read_checklist

PICTURES = ROOT / "static" / "guide" / "pictures"
# In the order taken; tests/test_docs.py holds them against the files and against what the pages
# name.
NAMES = (
    "today",
    "how",
    "inspector",
    "twice",
    "fault",
    "review",
    "saved",
    "holes",
    "trainer",
    "drift",
    "buyer",
    "checklist",
    "start",
    "laptop-first",
    "laptop",
)
LAPTOP = {"width": 760, "height": 900}


# The laptop of the picture has an address of this machine alone, and a folder for this picture;
# it shows those of a hotspot and of a user.
AS_IN_A_YARD = """() => {
  const write = (where, words) =>
    document.querySelectorAll(where).forEach((one) => { one.textContent = words; });
  write("h1 span", "https://10.42.0.1:8443/");
  write("figcaption", "http://10.42.0.1:8080/");
  write(".path", "~/.local/share/qcapp");
}"""

# What a screen is made of, without what it counts: headings, buttons, fields, columns.
SHOWN = "h1, h2, h3, button, label, legend, th[scope=col], summary, .ask"
Moment = tuple[str, Page]


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        taken = [save(page, name) for name, page in walk(browser, Path(folder))]
        browser.close()
    assert tuple(taken) == NAMES, f"taken: {taken}"


def walk(browser: Browser, folder: Path) -> Iterator[Moment]:
    """Through the app by every picture's place: its name, and the page as it is then."""
    yield from walk_demo(browser, folder)
    yield from walk_new_yard(browser, folder)


def walk_demo(browser: Browser, folder: Path) -> Iterator[Moment]:
    settings = Settings(database_url=f"sqlite:///{folder}/demo.sqlite3")
    settings, _figures = prepare_demo(settings, fresh=False, now=datetime.now(UTC))
    with YardServer(settings, folder) as server:
        yield from walk_phone(
            browser.new_context(**PHONE | {"device_scale_factor": 2}).new_page(), server
        )
        yield from walk_pages(open_signed_in(browser, server), server)


def walk_new_yard(browser: Browser, folder: Path) -> Iterator[Moment]:
    """The guided start, where some of it is done and some is not."""
    with open_small_yard(folder) as server:
        page = open_signed_in(browser, server)
        page.goto(f"{server.address}/yard/start")
        yield "start", page
    yield from walk_laptop(browser, folder / "laptop")


def walk_laptop(browser: Browser, home: Path) -> Iterator[Moment]:
    """The first page of a new yard on its laptop; then the page of a laptop that lets phones in."""
    home.mkdir()
    with LaptopServer(home) as server:
        page = browser.new_context(viewport=LAPTOP).new_page()
        page.goto(f"{server.address}/laptop/first")
        yield "laptop-first", page
        page = open_signed_in(browser, server)
        page.goto(f"{server.address}/laptop")
        page.evaluate(AS_IN_A_YARD)
        yield "laptop", page


def open_signed_in(browser: Browser, server: YardServer) -> Page:
    context = browser.new_context(viewport=LAPTOP)
    server.sign_in(context)
    return context.new_page()


def walk_phone(page: Page, server: YardServer) -> Iterator[Moment]:
    """From today round a stove with a door opening on its limit and a latch that does not hold,
    to a record not yet sent.
    """
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code(), name="Rasheni Vold")
    yield "today", calm(page)
    inspector.start_stove()
    page.locator("#ui-how").tap()
    page.locator(".how:not(.one-line)").wait_for()
    yield "how", calm(page)
    page.locator("#ui-how").tap()
    yield from walk_opening(inspector)
    while page.locator("dialog[open]").count() == 0:
        inspector.answer({"latch": "fail"})
    page.locator("dialog[open] [id^=ui-fault-]").first.tap()
    yield "fault", calm(page)
    page.locator("#ui-done:enabled").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    inspector.walk()
    page.locator("#ui-disposition-rework").tap()
    yield "review", calm(page)
    page.context.set_offline(True)
    inspector.save()
    yield "saved", calm(page)
    page.evaluate("location.hash = '#/holes'")
    wait_settled(page).locator("#ui-how").tap()
    page.locator(".holes figure").first.wait_for()
    yield "holes", calm(page)


def walk_opening(inspector: Inspector) -> Iterator[Moment]:
    """The width of the door opening: a too large value typed, then one that is on the limit."""
    page = inspector.page
    while inspector.find_open()["id"] != "door-opening-width":
        inspector.answer({})
    press(page, "105")
    yield "inspector", calm(page)
    for _ in "105":
        page.locator("#ui-key-back").tap()
    press(page, "103")
    page.locator("#ui-key-ok").tap()
    page.locator("dialog[open]").wait_for()
    yield "twice", calm(page)
    page.locator("dialog[open] .go").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    press(page, "102")
    page.locator("#ui-key-ok").tap()
    calm(page)


def press(page: Page, signs: str) -> None:
    for sign in signs:
        page.locator(f"#ui-key-{sign}").tap()


def walk_pages(page: Page, server: YardServer) -> Iterator[Moment]:
    store = server.open_store()
    token = give_to_buyer(store, server.settings, datetime.now(UTC))
    store.close()
    for name, address in (
        ("trainer", "/trainer"),
        ("drift", "/trainer/drift"),
        ("buyer", f"/s/{token}"),
    ):
        page.goto(server.address + address)
        yield name, page
    page.goto(f"{server.address}/yard/checklists/finished-stove/checks/door-opening-width")
    page.locator("#limits").evaluate("heading => heading.scrollIntoView()")
    yield "checklist", page


def calm(page: Page) -> Page:
    """After what moves has come to rest, and without the last answer, which goes by itself."""
    page.wait_for_timeout(1500)
    page.evaluate("document.getElementById('ui-answered')?.remove()")
    return page


def read_shown(page: Page) -> str:
    """The words of what the screen is made of, a line each, every number as #:
    those follow the day the demo is filled on.
    """
    texts = page.locator(SHOWN).evaluate_all(
        "all => all.filter((one) => one.checkVisibility()).map((one) => one.innerText)"
    )
    return "\n".join(re.sub(r"\d+", "#", " ".join(text.split())) for text in texts if text.strip())


def read_kept(name: str) -> str:
    """The words that stand in a picture's file."""
    with Image.open(PICTURES / f"{name}.png") as picture:
        return picture.text["Shown"]


def save(page: Page, name: str) -> str:
    path, words = PICTURES / f"{name}.png", PngImagePlugin.PngInfo()
    words.add_itxt("Shown", read_shown(page), lang="en")
    page.screenshot(path=path)
    picture = Image.open(path).convert("P", palette=Image.Palette.ADAPTIVE, colors=64)
    picture.save(path, optimize=True, pnginfo=words)
    print(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes")
    return name


if __name__ == "__main__":
    main()
