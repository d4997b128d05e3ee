"""Contact sheets of every check as the phone asks it in practice: to be looked at after a change of
checklists or pictures. python3 tests/check_sheets.py FOLDER (from tests/.venv).

A check that cannot be opened is named at the end; a calculated one is never asked.
"""

import math
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.e2e.inspector import wait_settled

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright
from playwright.sync_api import TimeoutError as NotShown

from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.inspector import show
from tests.e2e.phone_words import word
from tests.e2e.server import open_small_yard, read_checklist

ON_A_SHEET, COLUMNS = 12, 6
ONE = {**PHONE, "device_scale_factor": 1}
NAMES = (
    *("blanks", "cladding", "green-liner", "firing", "fired-liner", "bedding"),
    "finished-stove",
)


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as yard, sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        with open_small_yard(Path(yard)) as server:
            for name in NAMES:
                shots = list(walk(browser, server, name, folder))
                print(name, len(shots), "checks")
                write_sheets(shots, folder, name)
        browser.close()


def walk(browser: Browser, server, name: str, folder: Path) -> Iterator[Path]:
    """A picture of each check as the one the thumb acts on."""
    compiled = read_checklist(server, name)
    context = browser.new_context(**ONE)
    page = context.new_page()
    page.goto(f"{server.address}/phone/#join={server.make_code()}")
    page.get_by_role("button", name=word("join.go")).tap()
    page.get_by_role("button", name="Ciro").wait_for()
    show(page, "#/practice")
    page.get_by_role("button", name=compiled["title"]["en"], exact=True).tap()
    page.locator(".walk").wait_for()
    for part in compiled["parts"]:
        show(page, f"#/walk/{part['id']}")
        for check in compiled["checks"]:
            if check["part"] == part["id"] and check["kind"] != "calculated":
                if open_check(page, check):
                    yield take(page, folder / f"{name}-{check['id']}.png")
                else:
                    print("not opened:", name, check["id"])
    context.close()


def open_check(page: Page, check: dict) -> bool:
    now = page.locator(f"#ui-now[data-check='{check['id']}']")
    if now.count():
        return True
    page.locator(".walk li button", has_text=check["ask"]["en"]).first.tap()
    try:
        now.wait_for(timeout=3000)
    except NotShown:
        return False
    return True


def take(page: Page, path: Path) -> Path:
    wait_settled(page)
    page.screenshot(path=path)
    return path


def write_sheets(shots: list[Path], folder: Path, name: str) -> None:
    width, height = ONE["viewport"]["width"], ONE["viewport"]["height"]
    for number in range(math.ceil(len(shots) / ON_A_SHEET)):
        some = shots[number * ON_A_SHEET : (number + 1) * ON_A_SHEET]
        rows = math.ceil(len(some) / COLUMNS)
        sheet = Image.new("RGB", (COLUMNS * width, rows * height), "white")
        for place, path in enumerate(some):
            with Image.open(path) as shot:
                sheet.paste(shot, (place % COLUMNS * width, place // COLUMNS * height))
        sheet.save(folder / f"sheet-{name}-{number + 1}.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
