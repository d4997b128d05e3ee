"""Makes the README's pictures from the running app: python3 tests/pictures.py (from tests/.venv)."""

import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from PIL import Image  # noqa: E402  (path set above)
from playwright.sync_api import Page, sync_playwright  # noqa: E402

from qcapp.demo import give_to_buyer, prepare_demo  # noqa: E402
from qcapp.settings import Settings  # noqa: E402
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path  # noqa: E402
from tests.e2e.inspector import Inspector  # noqa: E402
from tests.e2e.server import YardServer, read_checklist  # noqa: E402

PICTURES = ROOT / "static" / "pictures"


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(database_url=f"sqlite:///{folder}/demo.sqlite3")
        settings, _figures = prepare_demo(settings, fresh=False, now=datetime.now(UTC), show=False)
        server = YardServer(settings, Path(folder))
        server.start()
        try:
            with sync_playwright() as driver:
                browser = driver.chromium.launch(executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS))
                take_phone(browser.new_context(**PHONE).new_page(), server)
                desk = browser.new_context(viewport={"width": 760, "height": 900})
                server.sign_in(desk)
                take_pages(desk.new_page(), server)
                browser.close()
        finally:
            server.stop()


def take_phone(page: Page, server: YardServer) -> None:
    """The walk at the width of the door opening, a too large value typed."""
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code(), name="Rasheni Vold")
    inspector.start_stove()
    while page.locator("#ui-now .ask").inner_text() != inspector.find_ask("door-opening-width"):
        inspector.answer({})
    for sign in "105":
        page.locator(f"#ui-key-{sign}").tap()
    page.wait_for_timeout(1500)
    save(page, "inspector", full_page=False)


def take_pages(page: Page, server: YardServer) -> None:
    store = server.open_store()
    token = give_to_buyer(store, server.settings, datetime.now(UTC))
    store.close()
    for name, address in (("trainer", "/trainer"), ("buyer", f"/s/{token}")):
        page.goto(server.address + address)
        save(page, name, full_page=False)


def save(page: Page, name: str, *, full_page: bool) -> None:
    path = PICTURES / f"{name}.png"
    page.screenshot(path=path, full_page=full_page)
    Image.open(path).convert("P", palette=Image.Palette.ADAPTIVE, colors=64).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes")


if __name__ == "__main__":
    main()
