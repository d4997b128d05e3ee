"""The phone at a sixth of this machine's speed: weights exact, times for comparison in one run only."""

import gzip
import statistics
import tempfile
from pathlib import Path

from playwright.sync_api import BrowserContext, CDPSession, Page, sync_playwright

from qcapp.web.shell import Shell, load_shell
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.e2e.inspector import Inspector
from tests.e2e.server import YardServer, open_small_yard, read_checklist

SLOWED = 6
STARTS = 5


def measure_phone() -> dict[str, float]:
    """Figures by name; bytes are gzipped, times in milliseconds."""
    figures = weigh(load_shell(Path(__file__).resolve().parents[2] / "static"))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        server = open_small_yard(Path(folder))
        server.start()
        context = driver.chromium.launch_persistent_context(
            f"{folder}/profile", executable_path=get_chromium_path(), headless=True, args=list(CHROMIUM_FLAGS), **PHONE
        )
        try:
            figures |= _measure(context, server)
        finally:
            context.close()
            server.stop()
    return figures


def weigh(shell: Shell) -> dict[str, float]:
    precached = [address.removeprefix(shell.base) for address, _digest in shell.list_precached()]
    scripts = [path for path in shell.files if path.startswith("js/")]
    return {
        "scripts": len(scripts),
        "script bytes": sum(_packed(shell.files[path]) for path in scripts),
        "precached files": len(precached),
        "precached bytes": sum(_packed(shell.files.get(path, shell.files["index.html"])) for path in precached),
    }


def _packed(content: bytes) -> int:
    return len(gzip.compress(content, 9))


def _measure(context: BrowserContext, server: YardServer) -> dict[str, float]:
    page = context.pages[0]
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    server.stop()
    starts = [_start_cold(context, server.address, slowed) for slowed in (1, SLOWED) for _ in range(STARTS)]
    page = context.new_page()
    cdp = _slow(context, page, SLOWED)
    page.goto(f"{server.address}/phone/")
    inspector.page = page
    inspector.taps = 0
    _watch_taps(page)
    inspector.start_stove()
    inspector.walk()
    inspector.save()
    taps = sorted(page.evaluate("window.tapTimes"))
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return {
        "taps of a good stove": inspector.taps,
        "readings typed": inspector.readings,
        "cold offline start x1, median ms": statistics.median(starts[:STARTS]),
        f"cold offline start x{SLOWED}, median ms": statistics.median(starts[STARTS:]),
        f"tap to paint x{SLOWED}, median ms": statistics.median(taps),
        f"tap to paint x{SLOWED}, p98 ms": taps[min(len(taps) - 1, int(0.98 * len(taps)))],
        "taps measured": len(taps),
    }


def _start_cold(context: BrowserContext, address: str, slowed: int) -> float:
    """From navigation to the today screen, the server being stopped."""
    page = context.new_page()
    _slow(context, page, slowed)
    page.goto(f"{address}/phone/")
    page.get_by_role("button", name="Next stove").wait_for()
    page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
    passed = page.evaluate("performance.now()")
    page.close()
    return passed


def _slow(context: BrowserContext, page: Page, rate: int) -> CDPSession:
    cdp = context.new_cdp_session(page)
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    return cdp


def _watch_taps(page: Page) -> None:
    """Each interaction's time from the finger to the next paint, by the Event Timing API (8 ms steps)."""
    page.evaluate("""() => {
      window.tapTimes = [];
      new PerformanceObserver((list) => list.getEntries()
        .filter((entry) => entry.interactionId && entry.name === "click")
        .forEach((entry) => window.tapTimes.push(entry.duration)))
        .observe({ type: "event", durationThreshold: 16, buffered: true });
    }""")
