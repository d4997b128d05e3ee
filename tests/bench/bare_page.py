"""The least a phone's page can be: the same worker and the same files,
and a script that shows one button and counts its taps.
"""

import shutil
import statistics
from contextlib import closing
from pathlib import Path

from playwright.sync_api import BrowserContext, Playwright

from tests.bench.slowed import SLOWED, STARTS, WATCH_TAPS, list_starts, slow_down
from tests.conftest import open_profile
from tests.e2e.server import open_small_yard

TAPS = 35
SCRIPT = """const [button, count] = ["button", "p"].map((name) => document.createElement(name));
button.id = "ui-next";
button.textContent = "Next stove";
button.style.minHeight = "64px";
count.textContent = "0";
button.onclick = () => { count.textContent = Number(count.textContent) + 1; };
document.getElementById("screen").append(button, count);
"""


def measure_bare_page(driver: Playwright, folder: Path, static: Path) -> tuple[float, list[float]]:
    """(median milliseconds of a cold start without signal,
    sorted milliseconds from each tap to the next paint).
    """
    folder.mkdir()
    bare = shutil.copytree(static, folder / "static")
    (bare / "phone" / "js" / "main.js").write_text(SCRIPT, encoding="utf-8")
    (bare / "phone" / "js" / "starting.js").write_text("", encoding="utf-8")
    with (
        open_small_yard(folder, static_dir=bare) as server,
        closing(open_profile(driver, folder / "profile")) as context,
    ):
        page = context.pages[0]
        page.goto(f"{server.address}/phone/")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        server.stop()
        return statistics.median(list_starts(context, server.address, SLOWED, STARTS)), _tap(
            context, server.address
        )


def _tap(context: BrowserContext, address: str) -> list[float]:
    page = context.new_page()
    slow_down(context, page, SLOWED)
    page.goto(f"{address}/phone/")
    page.evaluate(WATCH_TAPS)
    for _ in range(TAPS):
        page.locator("button").tap()
        page.wait_for_timeout(50)
    page.get_by_text(str(TAPS), exact=True).wait_for()
    return sorted(page.evaluate("window.tapTimes"))
