"""A phone's page at a part of this machine's speed: how long it takes to start,
and from a tap to the paint.
"""

import json

from playwright.sync_api import BrowserContext, CDPSession, Page

SLOWED = 6
STARTS = 5
# Notes the frame in which the element shows. Whoever asks the page earlier makes it wait: the
# driver's own script takes longer to be read than the app's.
NOTE_FRAME = """(() => { const look = () => {
    if (window.shownAt !== undefined || !document.querySelector(SELECTOR)) return;
    window.shownAt = null;
    requestAnimationFrame(() => setTimeout(() => { window.shownAt = performance.now(); })); };
  const watch = { childList: true, subtree: true, attributes: true };
  new MutationObserver(look).observe(document, watch); })()"""
QUIET_MS = 1500
# Each interaction's time from the finger to the next paint, by the Event Timing API (8 ms steps).
WATCH_TAPS = """() => {
  window.tapTimes = [];
  new PerformanceObserver((list) => list.getEntries()
    .filter((entry) => entry.interactionId && entry.name === "click")
    .forEach((entry) => window.tapTimes.push(entry.duration)))
    .observe({ type: "event", durationThreshold: 16, buffered: true });
}"""


def list_starts(context: BrowserContext, address: str, slowed: int, count: int) -> list[float]:
    return [start_cold(context, address, slowed) for _ in range(count)]


def start_cold(
    context: BrowserContext, address: str, slowed: int, shows: str = "#ui-next"
) -> float:
    """Milliseconds from navigation until the page shows the element, the server being stopped."""
    page = context.new_page()
    slow_down(context, page, slowed)
    page.add_init_script(NOTE_FRAME.replace("SELECTOR", json.dumps(shows)))
    page.goto(f"{address}/phone/", wait_until="commit")
    passed: float | None = None
    while passed is None:
        page.wait_for_timeout(QUIET_MS)
        passed = page.evaluate("window.shownAt")
    page.close()
    return passed


def slow_down(context: BrowserContext, page: Page, rate: int) -> CDPSession:
    cdp = context.new_cdp_session(page)
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    return cdp
