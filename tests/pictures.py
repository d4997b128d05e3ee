"""Makes the pictures of the README and the guide from the running app: python3 tests/pictures.py (from tests/.venv)."""

import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from PIL import Image  # noqa: E402  (path set above)
from playwright.sync_api import Browser, Page, sync_playwright  # noqa: E402

from qcapp.demo import give_to_buyer, prepare_demo  # noqa: E402
from qcapp.settings import Settings  # noqa: E402
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path  # noqa: E402
from tests.e2e.inspector import Inspector  # noqa: E402
from tests.e2e.server import YardServer, open_small_yard, read_checklist  # noqa: E402

PICTURES = ROOT / "static" / "pictures"
# In the order taken; tests/test_docs.py holds them against the files and against what the pages name.
NAMES = (
    "today", "how", "inspector", "twice", "fault", "review", "saved", "trainer", "drift", "buyer", "checklist", "start",
)
DESK = {"width": 760, "height": 900}


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS))
        taken = [*take_demo(browser, Path(folder)), *take_new_yard(browser, Path(folder))]
        browser.close()
    assert tuple(taken) == NAMES, f"taken: {taken}"


def take_demo(browser: Browser, folder: Path) -> list[str]:
    settings = Settings(database_url=f"sqlite:///{folder}/demo.sqlite3")
    settings, _figures = prepare_demo(settings, fresh=False, now=datetime.now(UTC), show=False)
    server = YardServer(settings, folder)
    server.start()
    try:
        phone = take_phone(browser.new_context(**PHONE).new_page(), server)
        return [*phone, *take_pages(open_desk(browser, server), server)]
    finally:
        server.stop()


def take_new_yard(browser: Browser, folder: Path) -> list[str]:
    """The guided start, where some of it is done and some is not."""
    server = open_small_yard(folder)
    server.start()
    try:
        page = open_desk(browser, server)
        page.goto(f"{server.address}/yard/start")
        return [save(page, "start")]
    finally:
        server.stop()


def open_desk(browser: Browser, server: YardServer) -> Page:
    context = browser.new_context(viewport=DESK)
    server.sign_in(context)
    return context.new_page()


def take_phone(page: Page, server: YardServer) -> list[str]:
    """From today round a stove with a door opening on its limit and a latch that does not hold, to a record not yet sent."""
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code(), name="Rasheni Vold")
    taken = [save_calm(page, "today")]
    inspector.start_stove()
    page.locator("#ui-how").tap()
    page.locator("#ui-now svg.picture").wait_for()
    taken.append(save_calm(page, "how"))
    page.locator("#ui-how").tap()
    taken += take_opening(inspector)
    while page.locator("dialog[open]").count() == 0:
        inspector.answer({"latch": "fail"})
    page.locator("dialog[open] [id^=ui-fault-]").first.tap()
    taken.append(save_calm(page, "fault"))
    page.locator("#ui-done:not([aria-disabled=true])").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    inspector.walk()
    page.locator("#ui-disposition-rework").tap()
    taken.append(save_calm(page, "review"))
    page.context.set_offline(True)
    inspector.save()
    return [*taken, save_calm(page, "saved")]


def take_opening(inspector: Inspector) -> list[str]:
    """The width of the door opening: a too large value typed, then one that is on the limit."""
    page = inspector.page
    while page.locator("#ui-now .ask").inner_text() != inspector.find_ask("door-opening-width"):
        inspector.answer({})
    press(page, "105")
    taken = [save_calm(page, "inspector")]
    for _ in "105":
        page.locator("#ui-key-back").tap()
    press(page, "103")
    page.locator("#ui-key-ok").tap()
    page.locator("dialog[open]").wait_for()
    taken.append(save_calm(page, "twice"))
    page.locator("dialog[open] .go").tap()
    page.locator("dialog[open]").wait_for(state="detached")
    press(page, "102")
    page.locator("#ui-key-ok").tap()
    page.wait_for_timeout(1500)
    return taken


def press(page: Page, signs: str) -> None:
    for sign in signs:
        page.locator(f"#ui-key-{sign}").tap()


def take_pages(page: Page, server: YardServer) -> list[str]:
    store = server.open_store()
    token = give_to_buyer(store, server.settings, datetime.now(UTC))
    store.close()
    taken = []
    for name, address in (("trainer", "/trainer"), ("drift", "/trainer/drift"), ("buyer", f"/s/{token}")):
        page.goto(server.address + address)
        taken.append(save(page, name))
    page.goto(f"{server.address}/yard/checklists/finished-stove")
    check = page.locator("section[aria-label='Width of the door opening']")
    check.locator("> details > summary").click()
    check.evaluate("section => section.scrollIntoView()")
    return [*taken, save(page, "checklist")]


def save_calm(page: Page, name: str) -> str:
    """After what moves has come to rest."""
    page.wait_for_timeout(1500)
    return save(page, name)


def save(page: Page, name: str) -> str:
    path = PICTURES / f"{name}.png"
    page.screenshot(path=path)
    Image.open(path).convert("P", palette=Image.Palette.ADAPTIVE, colors=64).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes")
    return name


if __name__ == "__main__":
    main()
