"""A phone's page at a part of this machine's speed: how long it takes to start,
and from a tap to the paint.
"""

from playwright.sync_api import BrowserContext, CDPSession, Page

SLOWED = 6
STARTS = 5
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
    page.goto(f"{address}/phone/")
    page.locator(shows).first.wait_for(timeout=120_000)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
    passed = page.evaluate("performance.now()")
    page.close()
    return passed


def slow_down(context: BrowserContext, page: Page, rate: int) -> CDPSession:
    cdp = context.new_cdp_session(page)
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    return cdp
