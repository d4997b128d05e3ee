"""The phone at a sixth of this machine's speed: weights exact,
times for comparison in one run only.
"""

import statistics
import tempfile
from contextlib import closing
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, sync_playwright

from qcapp.web.phone.app_files import Shell, load_shell
from tests.bench.bare_page import measure_bare_page
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
      await new Promise((done) => { const change = base.transaction('kept', 'readwrite', { durability: 'strict' });
        change.objectStore('kept').add(event ?? { note: 'x'.repeat(1500) }); change.oncomplete = done; });
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
        Object.assign(event, { id: `${event.id.slice(0, -5)}${String(n).padStart(5, '0')}`, stove: `C${n}`, dev_seq: n + 1000 });
        event.captured_at = new Date(Date.parse(row.event.captured_at) - Math.floor(n / 50) * 864e5).toISOString();
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
            figures |= _measure(context, server)
        figures |= _compare(figures, *measure_bare_page(driver, Path(folder) / "bare", static))
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


def _measure(context: BrowserContext, server: YardServer) -> dict[str, float]:
    page = context.pages[0]
    inspector = Inspector(page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    server.stop()
    starts = [
        start
        for slowed in (1, SLOWED)
        for start in list_starts(context, server.address, slowed, STARTS)
    ]
    page = context.new_page()
    cdp = slow_down(context, page, SLOWED)
    page.goto(f"{server.address}/phone/")
    inspector.page = page
    inspector.taps = 0
    page.evaluate(WATCH_TAPS)
    inspector.start_stove()
    inspector.walk()
    inspector.save()
    taps = sorted(page.evaluate("window.tapTimes"))
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    page.evaluate(FILL, load_shell(Path(__file__).resolve().parents[2] / "static").base)
    # Counted once before it is measured, as on a phone that was used yesterday.
    counted = "#ui-figure-mend[data-n='999']"
    first = start_cold(context, server.address, SLOWED, counted)
    full = start_cold(context, server.address, SLOWED, counted)
    shown = start_cold(context, server.address, SLOWED)
    return {
        f"today with {RECORDS:,} records, first picture, cold x{SLOWED} ms": shown,
        f"today with {RECORDS:,} records, all counted, cold x{SLOWED} ms": full,
        f"today with {RECORDS:,} records, counted for the first time, cold x{SLOWED} ms": first,
        "taps of a good stove": inspector.taps,
        "readings typed": inspector.readings,
        "cold offline start x1, median ms": statistics.median(starts[:STARTS]),
        f"cold offline start x{SLOWED}, median ms": statistics.median(starts[STARTS:]),
        f"tap to paint x{SLOWED}, median ms": statistics.median(taps),
        f"tap to paint x{SLOWED}, p98 ms": _p98(taps),
        "taps measured": len(taps),
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


def _compare(
    figures: dict[str, float], bare_start: float, bare_taps: list[float]
) -> dict[str, float]:
    """The same worker with a page of one button, in the same run."""
    return {
        f"cold offline start x{SLOWED} against a bare page": (
            figures[f"cold offline start x{SLOWED}, median ms"] / bare_start
        ),
        f"tap to paint x{SLOWED}, p98 against a bare page": (
            figures[f"tap to paint x{SLOWED}, p98 ms"] / _p98(bare_taps)
        ),
    }


def _p95(times: list[float]) -> float:
    return sorted(times)[int(0.95 * len(times))]


def _p98(times: list[float]) -> float:
    return sorted(times)[int(0.98 * len(times))]
