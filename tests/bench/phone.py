"""The phone at a sixth of this machine's speed: weights exact,
times for comparison in one run only.
"""

import statistics
import tempfile
from contextlib import closing
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from qcapp.web.phone.app_files import Shell, load_shell
from tests.bench.floors import Floors, record_screens
from tests.bench.slowed import (
    SLOWED,
    STARTS,
    WATCH_TAPS,
    list_starts,
    slow_down,
    start_cold,
)
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path, open_profile
from tests.e2e.core.fake_yard import FakeYard
from tests.e2e.inspector import Inspector
from tests.e2e.server import YardServer, open_small_yard, read_checklist
from tests.phone_weight import (
    list_kept,
    list_modules,
    weigh,
    weigh_first_screen,
    weigh_lazy,
)

RECORDS = 5000
UNSENT = 500
# Name, round trip in ms, bytes a second: a weak and a usual mobile link, by common practice of such
# tests.
LINKS = (("400 ms and 0.4 Mbit/s", 400, 50_000), ("150 ms and 1.6 Mbit/s", 150, 200_000))
SAVE = """async (count) => { const times = [];
    for (let n = 1; n <= count; n += 1) {
      const began = performance.now();
      await core.save(`S${n}`, {body: {note: 'x'.repeat(900)}});
      times.push(performance.now() - began); }
    return times; }"""
# The least a durable save can be: the same bytes put into a store without an index, each in a
# strict transaction of its own.
BARE = """async (count) => { const times = [];
    const base = await new Promise((done) => { const open = indexedDB.open('bare', 1);
      open.onupgradeneeded = () => open.result.createObjectStore('kept', { autoIncrement: true });
      open.onsuccess = () => done(open.result); });
    const event = await core.save('bare', {body: {note: 'x'.repeat(900)}});
    for (let n = 1; n <= count; n += 1) {
      const began = performance.now();
      await new Promise((done) => {
        const change = base.transaction('kept', 'readwrite', { durability: 'strict' });
        change.objectStore('kept').add(event ?? { note: 'x'.repeat(1500) });
        change.oncomplete = done; });
      times.push(performance.now() - began); }
    return times; }"""
# Copies of the saved record under other stoves, fifty a day until today, sent already; every fifth
# one in rework.
FILL = """async (base) => {
    const { ask, withStores } = await import(`${base}phone/js/store/db.js`);
    const { forgetProjection } = await import(`${base}phone/js/store/outbox.js`);
    await withStores(['events', 'stoves', 'stale', 'meta'], 'readwrite', async (stores) => {
      const { events } = stores;
      const [row] = await ask(events.getAll());
      for (let n = 1; n < 5000; n += 1) {
        const event = structuredClone(row.event);
        const id = `${event.id.slice(0, -5)}${String(n).padStart(5, '0')}`;
        Object.assign(event, { id, stove: `C${n}`, dev_seq: n + 1000 });
        const daysAgo = Math.floor(n / 50);
        const at = Date.parse(row.event.captured_at) - daysAgo * 864e5;
        event.captured_at = new Date(at).toISOString();
        event.body.disposition = { kind: n % 5 ? 'release' : 'rework' };
        events.put({ ...row, id: event.id, key: `finished/C${n}`, state: 'sent', event });
      }
      forgetProjection(stores);
    }); }"""


def measure_phone() -> dict[str, float]:
    """Figures by name; bytes are gzipped, times in milliseconds."""
    static = Path(__file__).resolve().parents[2] / "static"
    figures = weigh_shell(load_shell(static))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        with (
            open_small_yard(Path(folder)) as server,
            closing(open_profile(driver, Path(folder) / "profile")) as context,
        ):
            figures |= _measure(driver, context, server, Path(folder) / "floors")
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        for link in LINKS:
            figures |= _measure_store(browser, static, link)
        browser.close()
    return figures


def weigh_shell(shell: Shell) -> dict[str, float]:
    first, every = list_modules(shell), list_modules(shell, lazy=True)
    return {
        "scripts of the first screen": len(first),
        "first screen bytes": weigh_first_screen(shell),
        "scripts loaded later": len(every - first),
        "loaded later bytes": weigh_lazy(shell),
        "kept files": len(list_kept(shell)),
        "kept bytes": weigh(shell, list_kept(shell)),
    }


def _measure(
    driver: Playwright, context: BrowserContext, server: YardServer, folder: Path
) -> dict[str, float]:
    page = context.pages[0]
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    screens = record_screens(page, inspector)
    server.stop()
    static = Path(__file__).resolve().parents[2] / "static"
    with closing(Floors(driver, folder, static, screens)) as floors:
        figures = _compare_starts(context, server.address, floors)
        taps = _walk_slowed(context, server.address, inspector)
        figures |= _compare_taps(taps, floors)
    figures |= {"taps of a good stove": inspector.taps, "readings typed": inspector.readings}
    return figures | _fill_and_start(context, server.address, static)


def _compare_starts(context: BrowserContext, address: str, floors: Floors) -> dict[str, float]:
    """The app and the least pages in turn, so that what else the machine does falls on all."""
    fast = statistics.median(list_starts(context, address, 1, STARTS))
    found: dict[str, list[float]] = {"app": [], "button": [], "first screen": []}
    for _ in range(STARTS):
        found["app"].append(start_cold(context, address, SLOWED))
        for name in ("button", "first screen"):
            found[name].append(floors.start(name))
    app, button, least = (statistics.median(times) for times in found.values())
    return {
        "cold offline start x1, median ms": fast,
        f"cold offline start x{SLOWED}, median ms": app,
        f"cold offline start x{SLOWED} of a button alone, median ms": button,
        f"cold offline start x{SLOWED} of the same modules and markup, median ms": least,
        f"cold offline start x{SLOWED} against a button alone": app / button,
        f"cold offline start x{SLOWED} against the same modules and markup": app / least,
    }


def _walk_slowed(context: BrowserContext, address: str, inspector: Inspector) -> list[float]:
    """Sorted milliseconds from each tap of a good stove to the next paint."""
    page = context.new_page()
    cdp = slow_down(context, page, SLOWED)
    page.goto(f"{address}/phone/")
    inspector.page, inspector.taps, inspector.readings = page, 0, 0
    page.evaluate(WATCH_TAPS)
    inspector.start_stove()
    inspector.walk()
    inspector.save()
    taps = sorted(page.evaluate("window.tapTimes"))
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return taps


def _compare_taps(taps: list[float], floors: Floors) -> dict[str, float]:
    button, least = (floors.list_taps(name) for name in ("button", "walk"))
    tap = f"tap to paint x{SLOWED}"
    return {
        f"{tap}, median ms": statistics.median(taps),
        f"{tap}, p98 ms": _p98(taps),
        f"{tap} of a button alone, median ms": statistics.median(button),
        f"{tap} of a button alone, p98 ms": _p98(button),
        f"{tap} of the same screens, median ms": statistics.median(least),
        f"{tap} of the same screens, p98 ms": _p98(least),
        f"{tap}, median against the same screens": (
            statistics.median(taps) / statistics.median(least)
        ),
        f"{tap}, p98 against the same screens": _p98(taps) / _p98(least),
        f"{tap}, p98 against a button alone": _p98(taps) / _p98(button),
        "taps measured": len(taps),
    }


def _fill_and_start(context: BrowserContext, address: str, static: Path) -> dict[str, float]:
    context.pages[-1].evaluate(FILL, load_shell(static).base)
    # Counted once before it is measured, as on a phone that was used yesterday.
    counted = "#ui-figure-mend[data-n='999']"
    today = f"today with {RECORDS:,} records"
    return {
        f"{today}, counted for the first time, cold x{SLOWED} ms": (
            start_cold(context, address, SLOWED, counted)
        ),
        f"{today}, all counted, cold x{SLOWED} ms": start_cold(context, address, SLOWED, counted),
        f"{today}, first picture, cold x{SLOWED} ms": start_cold(context, address, SLOWED),
    }


def _measure_store(browser: Browser, static: Path, link: tuple[str, int, int]) -> dict[str, float]:
    """Saves and one exchange of 500 records over an emulated link,
    by the phone's own modules without its screens.
    """
    name, latency_ms, bytes_per_s = link
    yard = FakeYard(static)
    context = browser.new_context(base_url=yard.url, **PHONE)
    page = context.new_page()
    page.goto("/bare")
    page.wait_for_function("globalThis.core !== undefined")
    page.evaluate("core.enrol('ABCD2345')")
    cdp = slow_down(context, page, SLOWED)
    bare = page.evaluate(BARE, UNSENT)
    saves = page.evaluate(SAVE, UNSENT - 1)
    cdp.send("Network.enable")
    cdp.send(
        "Network.emulateNetworkConditions",
        {
            "offline": False,
            "latency": latency_ms,
            "downloadThroughput": bytes_per_s,
            "uploadThroughput": bytes_per_s,
        },
    )
    calls = len(yard.calls)
    spent = page.evaluate(
        "async () => { const began = performance.now(); await core.syncNow(); return"
        " performance.now() - began; }"
    )
    left = page.evaluate("core.countUnsent()")
    assert left == 0, f"{left} records were not sent"
    made = len(yard.calls) - calls
    context.close()
    yard.stop()
    return {
        f"durable save x{SLOWED}, median ms": statistics.median(saves),
        f"durable save x{SLOWED}, p95 against a bare commit": _p95(saves) / _p95(bare),
        f"durable save x{SLOWED}, p98 ms": _p98(saves),
        f"{UNSENT} records sent, {name}, x{SLOWED} ms": spent,
        f"{UNSENT} records sent, {name}, requests": made,
    }


def _p95(times: list[float]) -> float:
    return sorted(times)[int(0.95 * len(times))]


def _p98(times: list[float]) -> float:
    return sorted(times)[int(0.98 * len(times))]
